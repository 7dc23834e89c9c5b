package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os/exec"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"onward/compose"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A heardNote is a note as another program reads it; times are ticks from the start.
type heardNote struct {
	At, End                int64
	Channel, Key, Velocity int
}

// A heardText is a text at its place.
type heardText struct {
	At   int64
	Text string
}

// A heardTrack is one track as midifile.mjs prints it.
type heardTrack struct {
	Name               string
	Notes              []heardNote
	Unclosed, Unopened int
	End                int64
}

// A heardSong is a MIDI file as midifile.mjs prints it.
type heardSong struct {
	Format, Division int
	Tracks           []heardTrack
	Texts, Markers   []heardText
	Tempos           []struct{ At, Micros int64 }
	Meters           []struct{ At, Beats, Unit int }
	Keys             []struct {
		At, Fifths int
		Minor      bool
	}
}

// heardSongs has the npm package midi-file 1.2.4 read a file of each read.
func heardSongs(t *testing.T, programs string, reads []outsideRead, file func(outsideRead) string) []heardSong {
	t.Helper()
	var names strings.Builder
	for _, r := range reads {
		fmt.Fprintln(&names, file(r))
	}
	lines := script(t, programs, "midi-file", "midifile.mjs", []byte(names.String()))
	if len(lines) != len(reads) {
		t.Fatalf("%d answers to %d files", len(lines), len(reads))
	}
	return decodeSongs(t, lines)
}

func decodeSongs(t *testing.T, lines [][]byte) []heardSong {
	t.Helper()
	songs := make([]heardSong, len(lines))
	for i, l := range lines {
		if err := json.Unmarshal(l, &songs[i]); err != nil {
			t.Fatalf("file %d: %v", i, err)
		}
	}
	return songs
}

// start reports where the count-in ends; -1 where the file does not say.
func (s *heardSong) start() int64 {
	for _, m := range s.Markers {
		if m.Text == timeline.MarkStart {
			return m.At
		}
	}
	return -1
}

// track finds the track of a name; nil if there is none.
func (s *heardSong) track(name string) *heardTrack {
	for i := range s.Tracks {
		if s.Tracks[i].Name == name {
			return &s.Tracks[i]
		}
	}
	return nil
}

// guide reports the notes of the player's line.
func (s *heardSong) guide(t *testing.T, r outsideRead) []heardNote {
	t.Helper()
	g := s.track(r.document.Instrument.Name)
	if g == nil {
		t.Fatalf("%q: no track %q", r.asked, r.document.Instrument.Name)
	}
	return g.Notes
}

// checkMidiFile reads every MIDI file with a parser by others: notes close, none is struck
// while it sounds, tempo, meter and keys are those of the document, tracks have their names,
// and the player's line is there with --guide and not without.
func checkMidiFile(t *testing.T, programs string, reads []outsideRead) {
	guided := heardSongs(t, programs, reads, func(r outsideRead) string { return r.guided })
	plain := heardSongs(t, programs, reads, func(r outsideRead) string { return r.plain })
	doubled := map[string]*doubling{}
	notes := 0
	for i, r := range reads {
		for _, s := range []*heardSong{&guided[i], &plain[i]} {
			if fault := s.fault(); fault != "" {
				t.Errorf("%q: %s", r.asked, fault)
			}
			if fault := s.unlike(&r.document); fault != "" {
				t.Errorf("%q: %s", r.asked, fault)
			}
			for _, track := range s.Tracks {
				notes += len(track.Notes)
			}
		}
		if fault := unguided(t, &guided[i], &plain[i], r); fault != "" {
			t.Errorf("%q: %s", r.asked, fault)
		}
		style := r.document.Style
		if doubled[style] == nil {
			doubled[style] = &doubling{}
		}
		doubled[style].add(&plain[i], guided[i].guide(t, r))
	}
	t.Logf("%d notes in %d files close", notes, 2*len(reads))
	for style, d := range doubled {
		t.Logf("%s: %s", style, d)
		if d.unison*100 > d.band {
			t.Errorf("%s: more than one band note in a hundred is the player's own: %s", style, d)
		}
	}
}

// fault says what is wrong with the file by itself; "" for nothing.
func (s *heardSong) fault() string {
	if s.Format != 1 || int64(s.Division) != int64(rhythm.TicksPerQuarter) {
		return fmt.Sprintf("type %d, division %d", s.Format, s.Division)
	}
	type place struct{ channel, key int }
	sounding := map[place][]heardNote{}
	for _, track := range s.Tracks {
		if track.Unclosed+track.Unopened > 0 {
			return fmt.Sprintf("track %q: %d notes do not end, %d ends stand alone", track.Name, track.Unclosed, track.Unopened)
		}
		for _, n := range track.Notes {
			if n.End <= n.At || n.End > track.End || n.Velocity < 1 {
				return fmt.Sprintf("track %q: note %+v", track.Name, n)
			}
			p := place{n.Channel, n.Key}
			sounding[p] = append(sounding[p], n)
		}
	}
	for p, notes := range sounding {
		slices.SortFunc(notes, func(a, b heardNote) int { return cmp.Compare(a.At, b.At) })
		for i := 1; i < len(notes); i++ {
			if notes[i].At < notes[i-1].End {
				return fmt.Sprintf("channel %d, key %d: struck at %d while it sounds till %d", p.channel, p.key, notes[i].At, notes[i-1].End)
			}
		}
	}
	return ""
}

// unlike says how what holds for the whole file differs from the document; "" for not at
// all.
func (s *heardSong) unlike(d *compose.Document) string {
	if len(s.Tracks) == 0 || s.Tracks[0].Name != d.Title || len(s.Texts) == 0 || s.Texts[0].Text != d.Identity.Request {
		return fmt.Sprintf("title %q, texts %v, want %q and %q", s.Tracks[0].Name, s.Texts, d.Title, d.Identity.Request)
	}
	meter, err := rhythm.ParseMeter(d.Meter)
	if err != nil {
		return err.Error()
	}
	if len(s.Meters) != 1 || s.Meters[0].At != 0 || s.Meters[0].Beats != meter.Beats || s.Meters[0].Unit != meter.Unit {
		return fmt.Sprintf("meters %v, want %v", s.Meters, meter)
	}
	// A minute has 60,000,000 microseconds; a felt beat has its share of quarters.
	micros := 60_000_000 * int64(rhythm.TicksPerQuarter) / int64(d.Tempo.BPM) / int64(meter.Beat())
	if len(s.Tempos) != 1 || s.Tempos[0].At != 0 || max(s.Tempos[0].Micros-micros, micros-s.Tempos[0].Micros) > 1 {
		return fmt.Sprintf("tempos %v, want %d microseconds to the quarter", s.Tempos, micros)
	}
	var want, got []string
	for _, section := range d.Sections {
		k, err := theory.ParseKey(section.Key.Concert)
		if err != nil {
			return err.Error()
		}
		want = append(want, k.String())
	}
	for _, k := range s.Keys {
		key := theory.Key{Fifths: k.Fifths, Mode: theory.Major}
		if k.Minor {
			key.Mode = theory.Minor
		}
		got = append(got, key.String())
	}
	if want, got = slices.Compact(want), slices.Compact(got); !slices.Equal(got, want) {
		return fmt.Sprintf("keys %v are not those of %v", s.Keys, d.Sections)
	}
	return ""
}

// unguided says what is wrong with the tracks: besides the player's line the two files
// hold the same, the band of the style's sheet and the count-in.
func unguided(t *testing.T, guided, plain *heardSong, r outsideRead) string {
	t.Helper()
	sheet, err := styles.Shipped(r.document.Style)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{r.document.Title}
	for _, p := range sheet.Band.Parts {
		names = append(names, p.Name)
	}
	player := r.document.Instrument.Name
	if slices.Contains(names, player) {
		return fmt.Sprintf("the band has a track %q too", player)
	}
	names = append(names, "Tonic chord", "Clicks")
	var got []string
	var besides []heardTrack
	for _, track := range guided.Tracks {
		got = append(got, track.Name)
		if track.Name != player {
			besides = append(besides, track)
		}
	}
	if want := slices.Insert(slices.Clone(names), len(names)-2, player); !slices.Equal(got, want) {
		return fmt.Sprintf("tracks %q, want %q", got, want)
	}
	got = nil
	for i, track := range plain.Tracks {
		got = append(got, track.Name)
		if i < len(besides) && !sameSound(track, besides[i]) {
			return fmt.Sprintf("track %q is another without --guide", track.Name)
		}
	}
	if !slices.Equal(got, names) {
		return fmt.Sprintf("without --guide tracks %q, want %q", got, names)
	}
	return ""
}

// sameSound reports whether two tracks hold the same notes, whatever their channels.
func sameSound(a, b heardTrack) bool {
	without := func(notes []heardNote) []heardNote {
		out := slices.Clone(notes)
		for i := range out {
			out[i].Channel = 0
		}
		return out
	}
	return a.End == b.End && reflect.DeepEqual(without(a.Notes), without(b.Notes))
}

// A doubling counts where the band strikes what the player strikes.
type doubling struct {
	band   int // notes of the band, drums and count-in left out
	line   int // notes of the player
	unison int // of the band, that the player strikes too
	octave int // of the player, that a part of the band strikes in any octave
	run    int // the most notes of the player in a row that one part of the band has, in any one octave
}

func (d *doubling) String() string {
	return fmt.Sprintf("%d of %d band notes (%.2f %%) are struck with the same note of the player; %.1f %% of the player's notes are struck in some octave; at most %d in a row by one part at one octave",
		d.unison, d.band, 100*float64(d.unison)/float64(d.band), 100*float64(d.octave)/float64(d.line), d.run)
}

// add counts one read.
func (d *doubling) add(plain *heardSong, line []heardNote) {
	const drums = 9
	at := map[int64]int{} // the player's keys
	for _, n := range line {
		at[n.At] = n.Key
	}
	d.line += len(line)
	met := map[int64]bool{}
	for _, track := range plain.Tracks {
		if track.Name == "Tonic chord" || len(track.Notes) == 0 || track.Notes[0].Channel == drums {
			continue
		}
		gaps := map[int64][]int{} // by onset, how far the player is above
		for _, n := range track.Notes {
			d.band++
			key, struck := at[n.At]
			if !struck || (key-n.Key)%12 != 0 {
				continue
			}
			met[n.At] = true
			gaps[n.At] = append(gaps[n.At], key-n.Key)
			if key == n.Key {
				d.unison++
			}
		}
		d.run = max(d.run, longestDoubled(line, gaps))
	}
	d.octave += len(met)
}

// longestDoubled reports the most notes of a line in a row that have one gap in common.
func longestDoubled(line []heardNote, gaps map[int64][]int) int {
	longest := 0
	runs := map[int]int{}
	for _, n := range line {
		next := map[int]int{}
		for _, gap := range gaps[n.At] {
			next[gap] = runs[gap] + 1
			longest = max(longest, next[gap])
		}
		runs = next
	}
	return longest
}

// checkMidicsv has Debian's midicsv, written in C, read every MIDI file: each note that is
// struck ends, and none is struck while it sounds. It finds the very notes that midi-file
// finds.
func checkMidicsv(t *testing.T, programs string, reads []outsideRead) {
	midicsv := lookedFor(t, "midicsv", "")
	for _, file := range []func(outsideRead) string{
		func(r outsideRead) string { return r.guided }, func(r outsideRead) string { return r.plain },
	} {
		songs := heardSongs(t, programs, reads, file)
		for i, r := range reads {
			out, err := exec.Command(midicsv, file(r)).Output()
			if err != nil {
				t.Fatalf("%s: %v", file(r), err)
			}
			notes, fault := csvNotes(out)
			if fault != "" {
				t.Errorf("%q: %s", r.asked, fault)
			}
			for k, track := range songs[i].Tracks {
				if !slices.Equal(notes[k+1], track.Notes) {
					t.Errorf("%q, track %q: midicsv finds %v, midi-file %v", r.asked, track.Name, notes[k+1], track.Notes)
				}
			}
		}
	}
}

// csvNotes pairs the notes that midicsv prints, by its track numbers, which begin at 1.
func csvNotes(text []byte) (notes map[int][]heardNote, fault string) {
	in := csv.NewReader(bytes.NewReader(text))
	in.FieldsPerRecord, in.TrimLeadingSpace, in.LazyQuotes = -1, true, true
	rows, err := in.ReadAll()
	if err != nil {
		return nil, err.Error()
	}
	notes = map[int][]heardNote{}
	open := map[[3]int]int{}
	for _, row := range rows {
		if row[2] != "Note_on_c" && row[2] != "Note_off_c" {
			continue
		}
		var n [6]int
		for _, k := range []int{0, 1, 3, 4, 5} {
			if n[k], err = strconv.Atoi(row[k]); err != nil {
				return nil, err.Error()
			}
		}
		where := [3]int{n[0], n[3], n[4]}
		index, sounds := open[where]
		begins := row[2] == "Note_on_c" && n[5] > 0
		switch {
		case begins == sounds:
			return nil, fmt.Sprintf("midicsv: %q, and sounding before is %v", row, sounds)
		case begins:
			open[where] = len(notes[n[0]])
			notes[n[0]] = append(notes[n[0]], heardNote{int64(n[1]), -1, n[3], n[4], n[5]})
		default:
			notes[n[0]][index].End = int64(n[1])
			delete(open, where)
		}
	}
	if len(open) > 0 {
		return nil, fmt.Sprintf("midicsv: %d notes do not end", len(open))
	}
	return notes, ""
}
