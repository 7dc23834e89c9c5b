package band_test

import (
	"fmt"
	"slices"
	"testing"

	"onward/compose"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// A duet is a read's take with company, without count-in: the player's notes with their
// lengths on the page, grace notes left out, and the company's as they sound.
type duet struct {
	asked
	l           *timeline.Layout
	chords      []inForce
	mine, other []heard
	line        *timeline.Timeline
}

// duets play every read with company.
func duets(t *testing.T, who band.Company) []duet {
	t.Helper()
	var all []duet
	for _, a := range reads(t) {
		all = append(all, duetOf(t, a, who))
	}
	return all
}

func duetOf(t *testing.T, a asked, who band.Company) duet {
	t.Helper()
	l, err := timeline.LayOut(&a.r.Score.Parts[0], timeline.CountIn{})
	if err != nil {
		t.Fatal(err)
	}
	d := duet{asked: a, l: l, chords: chordsOf(t, a), line: arrange(t, a, band.Options{Company: who, Guide: true})}
	melody, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	guide := track(d.line, a.r.Score.Parts[0].Name)
	for _, n := range melody {
		i := slices.IndexFunc(guide, func(g heard) bool { return g.at == n.At && g.key == int(n.Key) })
		if !n.Grace && i >= 0 {
			d.mine = append(d.mine, heard{n.At, n.At.Add(n.Length), int(n.Key), guide[i].velocity})
		}
	}
	d.other = track(d.line, "Company")
	if len(d.other) == 0 {
		t.Fatalf("%s: nobody plays along", a.name)
	}
	return d
}

// under reports the player's note that begins at a point.
func (d *duet) under(at rhythm.Offset) (heard, bool) {
	i, ok := slices.BinarySearchFunc(d.mine, at, func(n heard, at rhythm.Offset) int { return int(n.at - at) })
	if !ok {
		return heard{}, false
	}
	return d.mine[i], true
}

// onBeat reports whether a point is a felt beat.
func (d *duet) onBeat(at rhythm.Offset) bool {
	m, _ := d.l.At(at)
	return m.Meter.OnBeat(rhythm.Offset(at.Since(m.At) + m.Lead))
}

func harsh(d int) bool { return slices.Contains([]int{1, 2, 6, 10, 11}, d%12) }

func sweet(d int) bool { return slices.Contains([]int{3, 4, 8, 9}, d%12) }

// share says how many of how many, and complains where that is less than wanted.
func share(t *testing.T, what string, of, all int, least float64) {
	t.Helper()
	got := float64(of) / float64(max(1, all))
	t.Logf("%s: %d of %d, %.1f %%", what, of, all, 100*got)
	if got < least || all == 0 {
		t.Errorf("%s: %.1f %%, want %.1f %% or more", what, 100*got, 100*least)
	}
}

// A second part keeps the player's rhythm, mostly in thirds and sixths, softer, below
// wherever the range has that, in the chord where it is heard, and at the ends of phrases
// without fail (common practice).
func TestThirdsGoWithThePlayer(t *testing.T) {
	var notes, played, sweets, below, beats, inChord, ends, goodEnds, last, lastSweet int
	for _, d := range duets(t, band.Thirds) {
		low, high := rangeOf(d.r.Request.Instrument)
		notes += len(d.mine)
		for i, n := range d.other {
			m, ok := d.under(n.at)
			if !ok || n.end > m.end {
				t.Errorf("%s: plays %+v, not in the player's rhythm", d.name, n)
				continue
			}
			if n.velocity >= m.velocity {
				t.Errorf("%s: at %d as loud as the guide: %d to %d", d.name, n.at, n.velocity, m.velocity)
			}
			if n.key < low || n.key > high {
				t.Errorf("%s: plays %d, outside of %d to %d", d.name, n.key, low, high)
			}
			played++
			gap := abs(m.key - n.key)
			if sweet(gap) {
				sweets++
			}
			if n.key < m.key {
				below++
			}
			c := chordAt(d.chords, n.at)
			if has(c.chord, m.key) && d.onBeat(n.at) {
				beats++
				if has(c.chord, n.key) {
					inChord++
				}
			}
			if i == len(d.other)-1 && m.key-9 >= low { // else the range has neither
				last++
				if sweet(gap) {
					lastSweet++
				}
			}
		}
		for _, at := range phraseEnds(d) {
			ends++
			i := slices.IndexFunc(d.other, func(n heard) bool { return n.at == at })
			if i >= 0 && has(chordAt(d.chords, at).chord, d.other[i].key) {
				goodEnds++
			}
		}
	}
	share(t, "notes that are played along", played, notes, 0.98)
	share(t, "thirds, sixths and tenths", sweets, played, 0.92)
	share(t, "below the player", below, played, 0.97)
	share(t, "chord tones on beats where the player has one", inChord, beats, 0.95)
	share(t, "chord tones at the ends of phrases", goodEnds, ends, 0.97)
	share(t, "thirds and sixths at the very end", lastSweet, last, 1)
}

// rangeOf is the widest range of an instrument, sounding.
func rangeOf(in theory.Instrument) (low, high int) {
	low, high = 127, 0
	for _, r := range in.Ranges {
		r = r.Transpose(in.Sounds)
		low, high = min(low, r.Low.MIDI()), max(high, r.High.MIDI())
	}
	return low, high
}

// phraseEnds are where the player's last note of each phrase begins.
func phraseEnds(d duet) []rhythm.Offset {
	starts := map[int]bool{}
	for _, s := range d.r.Sections {
		for _, p := range s.Phrases {
			starts[p.First] = true
		}
	}
	var ends []rhythm.Offset
	for i, m := range d.l.Measures {
		if i > 0 && starts[m.Index] && m.Lead == 0 {
			for k := len(d.mine) - 1; k >= 0; k-- {
				if d.mine[k].at < m.At {
					if d.mine[k].end <= m.At {
						ends = append(ends, d.mine[k].at)
					}
					break
				}
			}
		}
	}
	return ends
}

// No fifths or octaves in a row, no seconds, sevenths or tritones in a row, and no
// dissonance that the chord does not have (common practice); the two do not cross.
func TestThirdsMakeNoParallels(t *testing.T) {
	pairs, dissonant, examined := 0, 0, 0
	for _, d := range duets(t, band.Thirds) {
		for i, n := range d.other {
			m, ok := d.under(n.at)
			if !ok {
				continue
			}
			examined++
			gap := abs(m.key-n.key) % 12
			if c := chordAt(d.chords, n.at); harsh(gap) {
				dissonant++
				if !has(c.chord, n.key) || !has(c.chord, m.key) {
					t.Errorf("%s: at %d %d under %d over %s", d.name, n.at, n.key, m.key, c.chord)
				}
			}
			if i == 0 {
				continue
			}
			a := d.other[i-1]
			b, ok := d.under(a.at)
			if !ok || a.key == n.key || b.key == m.key {
				continue
			}
			pairs++
			before := abs(b.key-a.key) % 12
			if before == gap && (gap == 0 || gap == 7) {
				t.Errorf("%s: %d/%d to %d/%d at %d", d.name, b.key, a.key, m.key, n.key, n.at)
			}
			if harsh(before) && harsh(gap) {
				t.Errorf("%s: two dissonances in a row, %d/%d to %d/%d at %d", d.name, b.key, a.key, m.key, n.key, n.at)
			}
		}
		if swaps := crossings(d); swaps > 0 {
			t.Errorf("%s: crosses the player %d times within a phrase", d.name, swaps)
		}
	}
	if pairs < 1000 {
		t.Errorf("only %d moves examined", pairs)
	}
	t.Logf("%d moves, %d of %d intervals dissonant, all of their chords", pairs, dissonant, examined)
}

// crossings counts how often the company changes the side within a phrase.
func crossings(d duet) int {
	ends := phraseEnds(d)
	count, side := 0, 0
	for _, n := range d.other {
		m, ok := d.under(n.at)
		if ok && m.key != n.key {
			now := 1
			if n.key < m.key {
				now = -1
			}
			if side != 0 && now != side {
				count++
			}
			side = now
		}
		if slices.Contains(ends, n.at) {
			side = 0
		}
	}
	return count
}

// A counter-melody has chord tones on the beats, keeps within an octave of the player and
// in the range, and moves where the player holds, holds where the player moves.
func TestCounterMelodyMovesWhereThePlayerHolds(t *testing.T) {
	var beats, inChord, notes, near, held, movesThere, busy, holdsThere, moves, still, steps int
	for _, d := range duets(t, band.Counter) {
		low, high := rangeOf(d.r.Request.Instrument)
		for i, n := range d.other {
			notes++
			if n.key < low || n.key > high {
				t.Errorf("%s: plays %d, outside of %d to %d", d.name, n.key, low, high)
			}
			if key, ok := soundAt(d.mine, n.at); !ok || abs(key-n.key) <= 12 {
				near++
			}
			c := chordAt(d.chords, n.at)
			if d.onBeat(n.at) {
				beats++
				if has(c.chord, n.key) {
					inChord++
				}
			}
			if i > 0 {
				moves++
				switch a := abs(n.key - d.other[i-1].key); {
				case a == 0:
					still++
				case a <= 4:
					steps++
				}
			}
		}
		for _, m := range d.l.Measures[1:] {
			beat := m.Meter.Beat()
			for from := beat; from+beat <= m.Length; from += beat {
				at := m.At.Add(from)
				mine := begun(d.mine, at, at.Add(beat))
				other := begun(d.other, at, at.Add(beat))
				switch {
				case mine == 0:
					held++
					if other > 0 {
						movesThere++
					}
				case mine >= 2:
					busy++
					if other <= 1 {
						holdsThere++
					}
				}
			}
		}
	}
	share(t, "chord tones on beats", inChord, beats, 1)
	share(t, "within an octave", near, notes, 1)
	share(t, "beats on which the player holds and company moves", movesThere, held, 0.8)
	share(t, "beats on which the player moves and company holds", holdsThere, busy, 0.98)
	share(t, "moves by a step or third", steps, moves, 0.6)
	share(t, "moves that are none", moves-still, moves, 0.78)
}

func begun(notes []heard, from, to rhythm.Offset) (n int) {
	for _, h := range notes {
		if h.at >= from && h.at < to {
			n++
		}
	}
	return n
}

// From one beat to the next a counter-melody makes no fifths or octaves with the player,
// and it doubles the player's note never twice in a row.
func TestCounterMelodyIsALineOfItsOwn(t *testing.T) {
	pairs := 0
	for _, d := range duets(t, band.Counter) {
		unisons := 0
		for _, m := range d.mine {
			key, ok := soundAt(d.other, m.at)
			if ok && key == m.key {
				unisons++
			} else {
				unisons = 0
			}
			if unisons > 1 {
				t.Errorf("%s: in unison twice in a row at %d", d.name, m.at)
			}
		}
		var before rhythm.Offset = -1
		for _, b := range d.line.Beats {
			if before < 0 {
				before = b.At
				continue
			}
			a, ok1 := soundAt(d.mine, before)
			n, ok2 := soundAt(d.mine, b.At)
			k, ok3 := soundAt(d.other, before)
			l, ok4 := soundAt(d.other, b.At)
			was := before
			before = b.At
			if !ok1 || !ok2 || !ok3 || !ok4 || a == n || k == l {
				continue
			}
			pairs++
			if x, y := abs(a-k)%12, abs(n-l)%12; x == y && (x == 0 || x == 7) {
				t.Errorf("%s: %d/%d to %d/%d from %d to %d", d.name, a, k, n, l, was, b.At)
			}
		}
	}
	if pairs < 500 {
		t.Errorf("only %d moves examined", pairs)
	}
	t.Logf("%d moves from beat to beat", pairs)
}

// Company is on a channel of its own with the player's own sound, and changes nothing else.
func TestCompanyChangesNothingElse(t *testing.T) {
	for _, who := range []band.Company{band.Thirds, band.Counter} {
		for _, a := range reads(t) {
			opts := band.Options{Guide: true, CountIn: timeline.FullCountIn(), Click: band.EveryBeat}
			plain := arrange(t, a, opts)
			opts.Company = who
			line := arrange(t, a, opts)
			used := map[uint8]string{}
			for _, e := range line.Events {
				name := line.Tracks[e.Track]
				if e.Kind == timeline.Program && name == "Company" && int(e.A) != a.r.Score.Parts[0].Program {
					t.Errorf("%s: company's program is %d, the player's %d", a.name, e.A, a.r.Score.Parts[0].Program)
				}
				if had, ok := used[e.Channel]; e.Channel != timeline.DrumsChannel && ok && had != name {
					t.Fatalf("%s: channel %d is of %s and of %s", a.name, e.Channel, had, name)
				}
				used[e.Channel] = name
			}
			for _, name := range plain.Tracks {
				if !slices.Equal(track(plain, name), track(line, name)) {
					t.Errorf("%s: %s plays otherwise with company", a.name, name)
				}
			}
			if fmt.Sprint(plain.Beats, plain.Tempos) != fmt.Sprint(line.Beats, line.Tempos) {
				t.Errorf("%s: beats or tempo differ", a.name)
			}
		}
	}
}

// Company rests where the band drops out: there the player is alone.
func TestCompanyDropsOutToo(t *testing.T) {
	for _, who := range []band.Company{band.Thirds, band.Counter} {
		for _, a := range reads(t) {
			all := pauses(t, a, roomy(t, a))
			line := arrange(t, a, band.Options{CountIn: timeline.FullCountIn(), DropOut: true, Company: who})
			for _, n := range track(line, "Company") {
				for _, p := range all {
					if n.at < p.end && n.end > p.at {
						t.Errorf("%s: company plays %+v in the rest from %d to %d", a.name, n, p.at, p.end)
					}
				}
			}
		}
	}
}

// Text goldens, to be read as music: what plays beside a march.
func TestCompanyGolden(t *testing.T) {
	r := scene(t, "march", "Bb", "I IV I V", marchPart, compose.Section{Name: "Strain", Dynamic: "mf", Again: "f", Repeat: true})
	text := ""
	for _, who := range []band.Company{band.Thirds, band.Counter} {
		line := arranged(t, r, band.Options{Company: who, Guide: true})
		for _, name := range []string{"Cornet", "Company"} {
			text += fmt.Sprintf("%-9s", name)
			k := uint8(indexOf(line.Tracks, name))
			for i := range 4 {
				from := rhythm.Offset(i) * rhythm.Offset(r.Meter.Measure())
				text += stave(line, k, from, from.Add(r.Meter.Measure()), rhythm.Eighth) + " | "
			}
			text += "\n"
		}
	}
	golden(t, "company.txt", text)
}
