// Package transcribe writes a MIDI take down as a page: one voice of it as a score, in
// measures, note values and spelled pitches.
package transcribe

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"onward/compose/score"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// maxMeasures is how many measures a page may have.
const maxMeasures = 10_000

// percussion is the channel that General MIDI keeps for drums.
const percussion = 9

// A Voice is what one channel of one track plays.
type Voice struct {
	Track   int    // index into the take's tracks
	Name    string // the track's; "" for none
	Channel uint8
	Notes   int
	Mean    float64 // of its notes' MIDI numbers
}

// String names the voice as a player finds it: "track 2 (Trumpet), channel 1".
func (v Voice) String() string {
	name := ""
	if v.Name != "" {
		name = " (" + v.Name + ")"
	}
	return fmt.Sprintf("track %d%s, channel %d", v.Track+1, name, v.Channel+1)
}

// Voices lists the voices of a take that play notes after its count-in, drums left out,
// by track and channel.
func Voices(t *timeline.Timeline) []Voice {
	var all []Voice
	for _, e := range t.Events {
		if e.Kind != timeline.NoteOn || e.Channel == percussion || e.At < rhythm.Offset(t.CountIn) {
			continue
		}
		i, found := slices.BinarySearchFunc(all, e, func(v Voice, e timeline.Event) int {
			return cmp.Or(cmp.Compare(v.Track, int(e.Track)), cmp.Compare(v.Channel, e.Channel))
		})
		if !found {
			v := Voice{Track: int(e.Track), Channel: e.Channel}
			if v.Track < len(t.Tracks) {
				v.Name = t.Tracks[v.Track]
			}
			all = slices.Insert(all, i, v)
		}
		all[i].Mean += float64(e.A)
		all[i].Notes++
	}
	for i := range all {
		all[i].Mean /= float64(all[i].Notes)
	}
	return all
}

// Highest is the index of the voice that lies highest on average, the first of equals: in
// most settings it has the tune. all must not be empty.
func Highest(all []Voice) int {
	best := 0
	for i, v := range all {
		if v.Mean > all[best].Mean {
			best = i
		}
	}
	return best
}

// A Page is a voice written down, at the pitch that it sounds.
type Page struct {
	Part score.Part
	// Assumed says what the take did not tell, in words: meter, key.
	Assumed []string
}

// Write writes the voice down. Of notes that sound together the highest is its line. Each
// beat is cut into the fewest equal parts, up to twelve, triplets among them, on which its
// notes begin as near as they were played; a note lasts up to the next where it sounds at
// least seven tenths of that time, or half of it as a staccato note does, and very short
// notes that run into the next are its grace
// notes. Barlines are counted from the take's start by its meters; where it has no meter
// it is written in 4/4, where it has no key, in the one whose profile fits its notes best.
//
// A take without notes, one with more than 10,000 measures, and a meter that cannot be
// written are errors.
func Write(t *timeline.Timeline, v Voice) (Page, error) {
	notes := takeGraces(skyline(voiceNotes(t, v)), t)
	if len(notes) == 0 {
		return Page{}, errors.New("it plays no notes")
	}
	bars, err := barsOf(t, notes[len(notes)-1].at.Add(early))
	if err != nil {
		return Page{}, err
	}
	var page Page
	if len(t.Meters) == 0 {
		page.Assumed = append(page.Assumed, "no meter stands in the file: 4/4 is assumed")
	}
	notes, bars = quantise(notes, bars)
	keys := t.Keys
	if len(keys) == 0 {
		k := keyOf(notes)
		keys = []timeline.KeyChange{{Key: k}}
		page.Assumed = append(page.Assumed, fmt.Sprintf("no key stands in the file: its notes fit %s best", k))
	}
	page.Part = score.Part{Name: v.Name, Measures: measures(bars, notes, keys)}
	clef := theory.Treble
	if v.Mean < middleC {
		clef = theory.Bass
	}
	page.Part.Measures[0].Clef = &clef
	score.SetTuplets(&page.Part)
	score.SetBeams(&page.Part)
	score.SetAccidentals(&page.Part)
	return page, nil
}

// middleC is the mean of a voice from which it stands in the treble clef.
const middleC = 60

// A note is one that sounds.
type note struct {
	at, end rhythm.Offset
	key     int   // MIDI number
	loud    int   // velocity
	grace   []int // of the grace notes ahead of it
	pitch   theory.Pitch
	graces  []theory.Pitch
}

// voiceNotes lists the voice's notes after the count-in, by start, higher ones first.
func voiceNotes(t *timeline.Timeline, v Voice) []note {
	var all []note
	open := map[uint8]int{}
	for _, e := range t.Events {
		if int(e.Track) != v.Track || e.Channel != v.Channel || e.At < rhythm.Offset(t.CountIn) {
			continue
		}
		switch e.Kind {
		case timeline.NoteOn:
			open[e.A] = len(all)
			all = append(all, note{at: e.At, end: t.End, key: int(e.A), loud: int(e.B)})
		case timeline.NoteOff:
			if i, ok := open[e.A]; ok {
				all[i].end = e.At
				delete(open, e.A)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b note) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(b.key, a.key)) })
	return all
}

// together is how near notes begin that are one chord: a sixty-fourth.
const together = rhythm.Quarter / 16

// skyline keeps of notes that sound together the highest: a lower one that begins with it,
// or lies under it for more than half of its own length, is left out.
func skyline(all []note) []note {
	var line []note
	for _, n := range all {
		if len(line) == 0 {
			line = append(line, n)
			continue
		}
		last := &line[len(line)-1]
		switch {
		case n.at.Since(last.at) < together && last.end > n.at:
			if n.key > last.key {
				n.at = last.at
				*last = n
			}
		case n.key < last.key && 2*(last.end-n.at) > n.end-n.at:
		default:
			last.end = min(last.end, n.at)
			line = append(line, n)
		}
	}
	return line
}

// takeGraces makes grace notes of notes that are as short as grace notes are played, run
// into the next, and lie off any grid or are as much softer than the note they lead to as
// grace notes are.
func takeGraces(all []note, t *timeline.Timeline) []note {
	leads := func(i int) bool {
		return i+1 < len(all) && all[i].end == all[i+1].at &&
			all[i].end.Since(all[i].at) <= timeline.GraceLength(microsAt(t, all[i].at))
	}
	var kept []note
	var ahead []int
	for i, n := range all {
		to := i
		for leads(to) {
			to++
		}
		// The short note of a dotted pair, unless it is softer than both its neighbours.
		dotted := i > 0 && n.at-all[i-1].at == 3*(n.end-n.at) && n.loud+timeline.GraceBelow > all[i-1].loud
		if to > i && !dotted && (n.at%rhythm.Offset(finest) != 0 || n.loud+timeline.GraceBelow <= all[to].loud) {
			ahead = append(ahead, n.key)
			continue
		}
		n.grace, ahead = ahead, nil
		kept = append(kept, n)
	}
	return kept
}

// microsAt reports the tempo in force.
func microsAt(t *timeline.Timeline, at rhythm.Offset) int {
	micros := t.Tempos[0].MicrosPerQuarter
	for _, c := range t.Tempos {
		if c.At > at {
			break
		}
		micros = c.MicrosPerQuarter
	}
	return micros
}
