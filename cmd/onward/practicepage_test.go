package main

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"onward/cmd/internal/session"
	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/theory"
)

// Every instrument of a class gets the same melody: whole octaves apart in sound, legal, in
// its own clef, and within an octave and a half of what it plays usually.
func TestPageForEveryInstrument(t *testing.T) {
	s := newStage(t)
	o := &requestOptions{Style: "march", Rung: 8, Instrument: "trumpet", Form: "strain", Count: 1, Seeded: true, Seed: 3, Journal: "j.db"}
	st, err := openStudio(t.Context(), s.env, o)
	if err != nil {
		t.Fatal(err)
	}
	defer st.close()
	m, err := st.compose(t.Context(), 3)
	if err != nil {
		t.Fatal(err)
	}
	sounding := func(p *score.Part) (all []int) {
		eachNote(p, func(_ *score.Measure, n *score.Note) { all = append(all, n.Pitch.Transpose(p.Sounds).MIDI()) })
		return all
	}
	want := sounding(&m.Score.Parts[0])
	for _, in := range theory.Instruments() {
		page := writtenFor(m.Score, in)
		p := &page.Parts[0]
		got := sounding(p)
		if len(got) != len(want) {
			t.Fatalf("%s: %d notes, want %d", in.ID, len(got), len(want))
		}
		by := got[0] - want[0]
		for i := range got {
			if got[i]-want[i] != by || by%12 != 0 {
				t.Fatalf("%s: note %d moves by %d, the first by %d", in.ID, i, got[i]-want[i], by)
			}
		}
		if err := score.Check(page).Err(); err != nil {
			t.Errorf("%s: %v", in.ID, err)
		}
		if c := p.Measures[0].Clef; c == nil || *c != in.Clef || p.Name != in.Name {
			t.Errorf("%s: clef %v, name %q", in.ID, c, p.Name)
		}
		room := in.Ranges[theory.Advanced]
		eachNote(p, func(m *score.Measure, n *score.Note) {
			if n.Pitch.MIDI() < room.Low.MIDI()-5 || n.Pitch.MIDI() > room.High.MIDI()+5 {
				t.Errorf("%s: %s in measure %d, its range is %s to %s", in.ID, n.Pitch, m.Number, room.Low, room.High)
			}
		})
		text, err := pageFor(m.Score, m.Request.Instrument, in.ID)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := musicxml.Read(bytes.NewReader(text)); err != nil {
			t.Errorf("%s: its page: %v", in.ID, err)
		}
	}
	if _, err := pageFor(m.Score, m.Request.Instrument, "kazoo"); err == nil {
		t.Error("a page for no instrument")
	}
}

// Any figure of the catalogue of several notes can be drilled in a meter that it fits.
func TestDrillOfEveryCell(t *testing.T) {
	c := figure.Default()
	for i := range c.Cells {
		cell := &c.Cells[i]
		if m := drillMeter(cell); cell.Span > m.Measure() || len(cell.Meters) > 0 && !slices.Contains(cell.Meters, m.String()) {
			t.Errorf("%s is not at home in %s", cell.Name, m)
		}
	}
}

// A panel hears a page once and its marks stand; the band's rest is told afterwards.
func TestPracticeForAPanel(t *testing.T) {
	s := newStage(t)
	var words []string
	choice := session.Choice{Kind: session.Read, Style: "march", Rung: 5, Instrument: "trombone", Percent: 90, Pressure: []string{"panel", "drop-out"}}
	chosen, again := false, false
	s.practise(t, func(p *session.Session, st session.State) *session.Action {
		switch {
		case st.Place == session.Choose && st.Offer != nil && !chosen:
			chosen = true
			return &session.Action{Do: session.DoChoose, Choice: &choice}
		case st.Place == session.Choose && chosen:
			return &session.Action{Do: session.DoStart}
		case st.Place == session.Slips:
			words = st.Take.Words
			return &session.Action{Do: session.DoKeep}
		case st.Place == session.Meaning:
			again = p.Do(session.Action{Do: session.DoAgain}) == nil
			return &session.Action{Do: session.DoQuit}
		}
		return nil
	}, "read")
	if again {
		t.Error("a panel heard it again")
	}
	if !slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(w, "the band rested in ") }) {
		t.Errorf("after the take: %q", words)
	}
	code, out, _ := s.run("read", "--plain", "--panel", "--again", "1")
	if code != exitRequest {
		t.Errorf("a second try: exit %d\n%s", code, out)
	}
}
