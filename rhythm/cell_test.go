package rhythm

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestParseCell(t *testing.T) {
	for _, c := range []struct {
		text   string
		onsets int
		span   string
	}{
		{"4. 8", 2, "2"},
		{"16 16 4", 3, "4."},
		{"gg16 16 4", 3, "4."},
		{"8 r8 8", 2, "4."},
		{"8t 8t 8t", 3, "4"},
		{"8 4~ 8", 2, "2"},
		{"4~ 4~ 4", 1, "2."},
		{"16(5:4) 16(5:4) 16(5:4) 16(5:4) 16(5:4)", 5, "4"},
		{"8.t 16t 8t", 3, "4"},
		{"16 8.", 2, "4"},
	} {
		events, err := ParseCell(c.text)
		if err != nil {
			t.Error(err)
			continue
		}
		cell := Cell{Events: events}
		for _, e := range events {
			cell.Span += e.Value.Duration()
		}
		if cell.Onsets() != c.onsets || cell.Span != length(t, c.span) {
			t.Errorf("%q: %d onsets over %d, want %d over %s", c.text, cell.Onsets(), cell.Span, c.onsets, c.span)
		}
		if got := FormatCell(events); got != c.text {
			t.Errorf("%q is written back as %q", c.text, got)
		}
	}
}

func TestParseCellRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":          `cell "": no notes; write values such as "4. 8"`,
		"4 5":       `cell "4 5": "5": note value "5" is not 1, 2, 4, 8, 16, 32, 64 or 128 with dots or t`,
		"4...":      `cell "4...": "4...": note value "4..." has more than two dots`,
		"8t.":       `cell "8t.": "8t.": note value "8t.": "t." is no tuplet; write t for a triplet, or a ratio such as (5:4)`,
		"8(3:3)":    `cell "8(3:3)": "8(3:3)": note value "8(3:3)": "(3:3)" is no tuplet; write t for a triplet, or a ratio such as (5:4)`,
		"128.":      `cell "128.": "128.": note value "128." is too short to be counted in ticks`,
		"r8~":       `cell "r8~": "r8~": a rest has no tie and no grace notes; a note has at most three grace notes`,
		"gggg8":     `cell "gggg8": "gggg8": a rest has no tie and no grace notes; a note has at most three grace notes`,
		"8 four":    `cell "8 four": "four": note value "four" is not 1, 2, 4, 8, 16, 32, 64 or 128 with dots or t`,
		"4 8.(0:2)": `cell "4 8.(0:2)": "8.(0:2)": note value "8.(0:2)": "(0:2)" is no tuplet; write t for a triplet, or a ratio such as (5:4)`,
	} {
		if _, err := ParseCell(text); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
}

// Written and read back, any cell is the same.
func TestFormatCellRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var events []Event
		for range rapid.IntRange(1, 8).Draw(t, "events") {
			e := Event{Value: Value{Base: 1 << rapid.IntRange(0, 7).Draw(t, "base"), Dots: rapid.IntRange(0, 2).Draw(t, "dots")}}
			e.Value.Tuplet = rapid.SampledFrom([]Ratio{{}, Triplet, {5, 4}, {6, 4}, {7, 4}, {2, 3}, {9, 8}}).Draw(t, "tuplet")
			if e.Rest = rapid.Bool().Draw(t, "rest"); !e.Rest {
				e.Tied, e.Grace = rapid.Bool().Draw(t, "tied"), rapid.IntRange(0, 3).Draw(t, "grace")
			}
			if e.Value.exact() {
				events = append(events, e)
			}
		}
		if len(events) == 0 {
			return
		}
		again, err := ParseCell(FormatCell(events))
		if err != nil || !slices.Equal(again, events) {
			t.Fatalf("%q reads back as %v, %v", FormatCell(events), again, err)
		}
	})
}

func FuzzParseCell(f *testing.F) {
	for _, s := range []string{"4. 8", "gg16 16~ 4", "r8 8t 16(5:4)", "128", "8..t"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		events, err := ParseCell(s)
		if err != nil {
			return
		}
		again, err := ParseCell(FormatCell(events))
		if err != nil || !slices.Equal(again, events) {
			t.Errorf("%q: %q reads back as %v, %v", s, FormatCell(events), again, err)
		}
	})
}

func TestFits(t *testing.T) {
	events, err := ParseCell("4 8")
	if err != nil {
		t.Fatal(err)
	}
	free := Cell{Events: events, Span: length(t, "4.")}
	listed := Cell{Events: events, Span: length(t, "4."), Meters: []string{"6/8", "cut"}}
	for _, c := range []struct {
		meter        string
		free, listed bool
	}{
		{"6/8", true, true}, {"3/8", true, false}, {"4/4", false, false}, {"cut", false, true},
	} {
		m := meter(t, c.meter)
		if m == CutTime && !listed.Fits(Meter{Beats: 2, Unit: 2}) {
			t.Error("a cell for cut does not fit 2/2")
		}
		if free.Fits(m) != c.free || listed.Fits(m) != c.listed {
			t.Errorf("%s: fits %v and %v, want %v and %v", c.meter, free.Fits(m), listed.Fits(m), c.free, c.listed)
		}
	}
}

// 10,080 ticks a quarter make every tuplet up to 9, double dots and 128ths exact.
func TestDurations(t *testing.T) {
	for text, want := range map[string]Duration{
		"1": 40320, "2": 20160, "4": 10080, "8": 5040, "16": 2520, "32": 1260, "64": 630, "128": 315,
		"4.": 15120, "4..": 17640, "2.": 30240, "8t": 3360, "4t": 6720, "16(5:4)": 2016, "16(7:4)": 1440, "32(9:8)": 1120, "8(2:3)": 7560,
	} {
		v, err := ParseValue(text)
		if err != nil {
			t.Error(err)
			continue
		}
		if got := v.Duration(); got != want {
			t.Errorf("%s lasts %d ticks, want %d", text, got, want)
		}
	}
}

func TestParseMeterRefuses(t *testing.T) {
	for _, text := range []string{"", "4", "0/4", "16/4", "4/3", "02/2", "+3/4", "3/4 ", "6-8", "-2/4"} {
		if m, err := ParseMeter(text); err == nil {
			t.Errorf("%q was taken for %s", text, m)
		}
	}
	if m, err := ParseMeter("2/2"); err != nil || m != CutTime {
		t.Errorf("2/2 is %v, %v", m, err)
	}
}

// Beats as marches and songs count them (common practice): 6/8 in two, cut in two
// halves, 3/8 in one.
func TestMeters(t *testing.T) {
	for _, c := range []struct {
		meter, beat, measure string
		count                int
		strong               string // how far into the measure the second strong place lies
	}{
		{"2/4", "4", "2", 2, "4"},
		{"3/4", "4", "2.", 3, ""},
		{"4/4", "4", "1", 4, "2"},
		{"cut", "2", "1", 2, "2"},
		{"6/8", "4.", "2.", 2, "4."},
		{"3/8", "4.", "4.", 1, ""},
		{"9/8", "4.", "2. 4.", 3, ""},
		{"12/8", "4.", "1.", 4, "2."},
		{"5/4", "4", "1 4", 5, "2."},
	} {
		m := meter(t, c.meter)
		if m.Beat() != length(t, c.beat) || m.BeatValue().String() != c.beat || m.Measure() != length(t, c.measure) || m.Count() != c.count {
			t.Errorf("%s: beat %v of %d, measure %d, %d beats", c.meter, m.BeatValue(), m.Beat(), m.Measure(), m.Count())
		}
		for at := Offset(0); at < Offset(m.Measure()); at += Offset(Sixteenth) {
			want := at == 0 || c.strong != "" && at == Offset(length(t, c.strong))
			if m.Strong(at) != want {
				t.Errorf("%s: strong at %d is %v, want %v", c.meter, at, !want, want)
			}
			if beat := at%Offset(length(t, c.beat)) == 0; m.OnBeat(at) != beat {
				t.Errorf("%s: on beat at %d is %v", c.meter, at, !beat)
			}
		}
		if c.meter != m.String() {
			t.Errorf("%s is written %s", c.meter, m)
		}
	}
}
