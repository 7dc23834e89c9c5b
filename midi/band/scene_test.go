package band_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

var update = flag.Bool("update", false, "write the goldens anew")

// scene makes a read of one section out of text: the player's part, and a word of
// chords for each measure as written, "I-V7" for two halves.
func scene(t *testing.T, style, key, chords, part string, s compose.Section) *compose.Read {
	t.Helper()
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	p, err := score.ParseText(part)
	if err != nil {
		t.Fatal(err)
	}
	k, err := theory.ParseKey(key)
	if err != nil {
		t.Fatal(err)
	}
	r := &compose.Read{Title: t.Name(), Seed: 1, Style: sheet, Key: k, Meter: *p.Measures[0].Meter, Score: &score.Score{Parts: []score.Part{p}}}
	for i, word := range strings.Fields(chords) {
		halves := strings.Split(word, "-")
		for h, numeral := range halves {
			c, err := k.Numeral(numeral)
			if err != nil {
				t.Fatal(err)
			}
			at := rhythm.Offset(0).Add(rhythm.Duration(h) * r.Meter.Measure() / 2)
			r.Chords = append(r.Chords, compose.Chord{Measure: i, At: at, Chord: c})
		}
	}
	if len(strings.Fields(chords)) != len(p.Measures) {
		t.Fatalf("%d words of chords for %d measures", len(strings.Fields(chords)), len(p.Measures))
	}
	s.Key, s.Measures = k, len(p.Measures)
	if s.Phrases == nil {
		s.Phrases = []compose.Phrase{{First: 0, Measures: len(p.Measures), Letter: "a", Cadence: "close"}}
	}
	r.Sections = []compose.Section{s}
	return r
}

// staves writes a band as text, a line to each part of each measure: what is struck in
// each cell of a grid, the notes held marked with -.
func staves(line *timeline.Timeline, grid rhythm.Duration) string {
	var b strings.Builder
	var bars []timeline.Beat
	for _, beat := range line.Beats {
		if beat.Beat == 1 {
			bars = append(bars, beat)
		}
	}
	for i, bar := range bars {
		end := line.End
		if i+1 < len(bars) {
			end = bars[i+1].At
		}
		fmt.Fprintf(&b, "measure %d pass %d\n", bar.Number, bar.Pass)
		for k, name := range line.Tracks {
			if text := stave(line, uint8(k), bar.At, end, grid); strings.Trim(text, " .") != "" {
				fmt.Fprintf(&b, "  %-15s%s\n", name, strings.TrimRight(text, " "))
			}
		}
	}
	return b.String()
}

func stave(line *timeline.Timeline, track uint8, from, end rhythm.Offset, grid rhythm.Duration) string {
	var cells []string
	for at := from; at < end; at = at.Add(grid) {
		var struck []string
		for _, e := range line.Events {
			if e.Track != track || e.Kind != timeline.NoteOn || e.At < at || e.At >= at.Add(grid) {
				continue
			}
			name := strings.Fields(e.String())[4]
			if e.Channel == timeline.DrumsChannel {
				name = "x"
			}
			struck = append(struck, fmt.Sprintf("%s:%d", name, e.B))
		}
		cell := strings.Join(struck, "+")
		if cell == "" {
			cell = "."
		}
		cells = append(cells, cell)
	}
	return strings.Join(cells, " ")
}

// golden compares text with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is otherwise; if that is meant, run with -update.\ngot\n%s\nwant\n%s", path, got, want)
	}
}

const marchPart = `part Cornet; sounds -1 -2; key C; 6/8 tempo 4.=116;
	|: mf C5:4 C5:8 E5:4 E5:8 | F5:4. A5:4. | G5:4 E5:8 C5:4 D5:8 | B4:2. :|`

func arranged(t *testing.T, r *compose.Read, opts band.Options) *timeline.Timeline {
	t.Helper()
	line, err := band.Arrange(r, opts)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

func TestMarchGolden(t *testing.T) {
	r := scene(t, "march", "Bb", "I IV I V", marchPart, compose.Section{Name: "Strain", Dynamic: "mf", Again: "f", Repeat: true})
	golden(t, "march.txt", staves(arranged(t, r, band.Options{}), rhythm.Eighth))
}

func TestLyricalGolden(t *testing.T) {
	r := scene(t, "lyrical", "Eb", "I vi ii-V7 I", `part Trumpet; sounds -1 -2; key F; 4/4 tempo 4=76;
		p F4:2 A4:4 C5:4 | D5:2. A4:4 | G4:2 E4:4 G4:4 | F4:1 |]`, compose.Section{Name: "Verse", Dynamic: "p"})
	r.Breaths = []compose.Breath{{Measure: 1, At: rhythm.Offset(3 * rhythm.Quarter)}}
	golden(t, "lyrical.txt", staves(arranged(t, r, band.Options{}), rhythm.Eighth))
}

// The count-in goes by the felt beat: in 6/8 and cut time two to the measure.
func TestTwoBeatsAreCounted(t *testing.T) {
	for _, c := range []struct {
		meter, part string
		beat        rhythm.Duration
		want        []int
	}{
		{"6/8", "6/8 key Bb; F4:4. D4:4. | Bb3:2. |]", rhythm.Quarter * 3 / 2, []int{0, 1, 2, 3}},
		{"cut", "cut key Bb; F4:2 D4:2 | Bb3:1 |]", rhythm.Half, []int{0, 1, 2, 3}},
		{"2/4", "2/4 key Bb; F4:4 D4:4 | Bb3:2 |]", rhythm.Quarter, []int{0, 1, 2, 3}},
		{"3/4", "3/4 key Bb; F4:2 D4:4 | Bb3:2. |]", rhythm.Quarter, []int{0, 1, 2, 3, 4, 5}},
	} {
		r := scene(t, "march", "Bb", "I I", c.part, compose.Section{Name: "Strain", Dynamic: "mf"})
		line := arranged(t, r, band.Options{CountIn: timeline.CountIn{Measures: 2}})
		var got []int
		for _, n := range track(line, "Clicks") {
			got = append(got, int(n.at/rhythm.Offset(c.beat)))
			if accent := n.key == timeline.ClickAccent; accent != (n.at%rhythm.Offset(r.Meter.Measure()) == 0) {
				t.Errorf("%s: click %d at %d; downbeats alone are accented", c.meter, n.key, n.at)
			}
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: clicks on beats %v, want %v", c.meter, got, c.want)
		}
		if first := track(line, "Tuba")[0].at; first != rhythm.Offset(line.CountIn) {
			t.Errorf("%s: the tuba comes in at %d, the count-in ends at %d", c.meter, first, line.CountIn)
		}
	}
}

func TestClickGoesOnOnlyWhenAsked(t *testing.T) {
	r := scene(t, "march", "Bb", "I I", "2/4 key Bb; F4:4 D4:4 | Bb3:2 |]", compose.Section{Name: "Strain", Dynamic: "mf"})
	for _, c := range []struct {
		opts band.Options
		want int
	}{
		{band.Options{}, 0},
		{band.Options{Click: band.EveryBeat}, 4},
		{band.Options{CountIn: timeline.FullCountIn()}, 4},
		{band.Options{CountIn: timeline.FullCountIn(), Click: band.EveryBeat}, 8},
		{band.Options{CountIn: timeline.FullCountIn(), Click: band.OffBeats}, 8},
	} {
		if got := len(track(arranged(t, r, c.opts), "Clicks")); got != c.want {
			t.Errorf("%+v: %d clicks, want %d", c.opts, got, c.want)
		}
	}
}

// A sheet without a band gets the usual one, in every meter: a root on the first beat
// and chords that are struck with no bass note.
func TestUsualBandPlaysEveryMeter(t *testing.T) {
	for _, c := range []struct{ part, bass, horns string }{
		{"2/4 key Bb; D4:4 D4:4 | D4:4 D4:4 | Bb3:2 |]", "x . x .", ". x . x"},
		{"3/4 key Bb; D4:4 D4:4 D4:4 | D4:4 D4:4 D4:4 | Bb3:2. |]", "x . . . . .", ". . x . x ."},
		{"4/4 key Bb; D4:1 | D4:1 | Bb3:1 |]", "x . . . x . . .", ". . x . . . x ."},
		{"cut key Bb; D4:1 | D4:1 | Bb3:1 |]", "x . . . x . . .", ". . x . . . x ."},
		{"6/8 key Bb; D4:2. | D4:2. | Bb3:2. |]", "x . . x . .", ". . x . . x"},
		{"3/8 key Bb; D4:4. | D4:4. | Bb3:4. |]", "x . .", ". x x"},
		{"9/8 key Bb; D4:2.~ D4:4. | D4:2.~ D4:4. | Bb3:2.~ Bb3:4. |]", "x . . . . . . . .", ". . x . . x . . x"},
		{"5/4 key Bb; D4:2.~ D4:2 | D4:2.~ D4:2 | Bb3:2.~ Bb3:2 |]", "x . . . . . x . . .", ". . x . x . . . x ."},
	} {
		r := scene(t, "march", "Bb", "I V I", c.part, compose.Section{Name: "Strain", Dynamic: "mf"})
		bare := *r.Style
		bare.Band = styles.Band{}
		r.Style = &bare
		line := arranged(t, r, band.Options{})
		rests := func(name string) string {
			from := rhythm.Offset(r.Meter.Measure())
			cells := strings.Fields(stave(line, uint8(indexOf(line.Tracks, name)), from, from.Add(r.Meter.Measure()), rhythm.Eighth))
			for i, cell := range cells {
				if cell != "." {
					cells[i] = "x"
				}
			}
			return strings.Join(cells, " ")
		}
		if got := rests("Tuba"); got != c.bass {
			t.Errorf("%s: bass %s, want %s", r.Meter, got, c.bass)
		}
		if got := rests("Horns"); got != c.horns {
			t.Errorf("%s: horns %s, want %s", r.Meter, got, c.horns)
		}
	}
}

func indexOf(names []string, name string) int {
	for i, n := range names {
		if n == name {
			return i
		}
	}
	return -1
}

// A last note tied over the barline is a last chord on the barline.
func TestBandEndsUnderATie(t *testing.T) {
	r := scene(t, "march", "Bb", "V I", `2/4 key Bb; f C4:4 Bb3:4~ | Bb3:2 |]`, compose.Section{Name: "Strain", Dynamic: "f"})
	line := arranged(t, r, band.Options{})
	for _, name := range []string{"Tuba", "Horns", "Bass drum"} {
		notes := track(line, name)
		if last := notes[len(notes)-1]; last.at != rhythm.Offset(2*rhythm.Quarter) {
			t.Errorf("%s: strikes last at %d, not on the last barline", name, last.at)
		}
	}
}

// Chords that change within a measure are stated there by the bass, though its pattern
// has one note a measure.
func TestBassStatesChordsWithinAMeasure(t *testing.T) {
	r := scene(t, "lyrical", "Bb", "I-IV ii-V7 I", `4/4 key Bb; mf F4:2 G4:2 | Eb4:2 C4:2 | D4:1 |]`, compose.Section{Name: "Verse", Dynamic: "mf"})
	notes := track(arranged(t, r, band.Options{}), "Basses")
	chords := chordsOf(t, asked{"scene", r})
	for _, c := range chords {
		stated := false
		for _, n := range notes {
			stated = stated || n.at == c.at && has(c.chord, n.key)
		}
		if !stated {
			t.Errorf("%s at %d is not stated", c.chord, c.at)
		}
	}
}

// The band waits out a pickup, and a stinger is two short notes of all.
func TestPickupAndStinger(t *testing.T) {
	r := scene(t, "march", "Bb", "V I V I", `6/8 key Bb; tempo 4.=116; pickup f F4:8 | D4:4. F4:4. | C4:4. A3:4. | Bb3:8 r:4 Bb3:8 r:4 |]`,
		compose.Section{Name: "Strain", Dynamic: "f", Stinger: true})
	line := arranged(t, r, band.Options{})
	last := rhythm.Offset(3*rhythm.Quarter + rhythm.Quarter/2 + 3*rhythm.Quarter)
	for _, name := range []string{"Tuba", "Horns", "Bass drum", "Snare drum"} {
		var at []rhythm.Offset
		for _, n := range track(line, name) {
			if name != "Snare drum" && n.at < rhythm.Offset(rhythm.Eighth) {
				t.Errorf("%s plays in the pickup", name)
			}
			if n.at >= last && (len(at) == 0 || at[len(at)-1] != n.at) {
				at = append(at, n.at)
			}
		}
		if fmt.Sprint(at) != fmt.Sprint([]rhythm.Offset{last, last.Add(3 * rhythm.Eighth)}) {
			t.Errorf("%s: strikes at %v in the last measure, which begins at %d", name, at, last)
		}
	}
}
