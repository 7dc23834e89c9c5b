package survey_test

import (
	"fmt"
	"testing"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/compose/survey"
)

// A section begins at a double bar, a repeat, another signature or a trio, and not at other
// words.
func TestSections(t *testing.T) {
	for text, want := range map[string]string{
		"C5:1 | C5:1 || C5:1 | |: C5:1 :| C5:1 | key F; C5:1 |]": "1 to 2; 3; 4 repeated; 5; 6",
		"C5:1 | C5:1 | words Trio.; C5:1 | C5:1 |]":              "1 to 2; 3 to 4 Trio.",
		"C5:1 | words dolce; C5:1 |]":                            "1 to 2",
		"C5:1 | letter B; C5:1 | C5:1 |]":                        "1; 2 to 3 B",
		"C5:1 | [1 C5:1 ] :| [2 C5:1 ] | C5:1 |]":                "1 to 4 repeated with endings",
	} {
		got := ""
		for _, s := range surveyOf(t, "flute", "key C; 4/4 treble "+text).Form.Sections {
			if got != "" {
				got += "; "
			}
			got += s.Stretch.String()
			if s.Letter+s.Words != "" {
				got += " " + s.Letter + s.Words
			}
			if s.Repeated {
				got += " repeated"
			}
			if s.Endings {
				got += " with endings"
			}
		}
		if got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
}

// Sixth and seventh raised belong to minor: they leave no key.
func TestMelodicMinorIsOneKey(t *testing.T) {
	s := surveyOf(t, "flute", "key C; 4/4 treble A4:4 B4:4 C5:4 D5:4 | E5:4 F#5:4 G#5:4 A5:4 | G5:4 F5:4 E5:4 D5:4 | C5:4 B4:4 A4:2 |]")
	if s.Key.Name != "A minor" || len(s.Tonicised) > 0 {
		t.Errorf("%s, leaving for %+v", s.Key.Name, s.Tonicised)
	}
}

// A part that is harder than reads of the player's rung is as hard as they are when it goes
// so much slower; one that is easier is played as it stands.
func TestSlower(t *testing.T) {
	l := rungs(t)
	p := pieceOf(t, score.MustText("tempo 4=120; key C; 4/4 treble C5:16 E5:16 G5:16 C6:16 B5:16 G5:16 F5:16 D5:16 C5:8 E5:8 G5:8 E5:8 | C5:1 |]"))
	o := survey.Options{Instrument: instrument(t, "flute"), Catalogue: figure.Default(), Ladder: l}
	for rung := 0; rung <= len(l.Rungs); rung++ {
		o.Rung = rung
		s, err := survey.Of(p, 0, o)
		if err != nil {
			t.Fatal(err)
		}
		want := 0
		if rung > 0 {
			if percent := 100 * l.Rungs[rung-1].Aim / s.Rung.Difficulty; percent < 100 {
				want = max(int(percent), 30)
			}
		}
		if got := s.Rung.Slower; got < want-1 || got > want+1 || s.Rung.Asked != rung {
			t.Errorf("rung %d: %s, want %d %%", rung, fmt.Sprint(s.Rung), want)
		}
		if known := s.Vocabulary.By; known != survey.ByRung {
			t.Errorf("known by %s", known)
		}
		for _, f := range s.Vocabulary.Figures {
			if below := f.Level < rung; rung > 0 && f.Known != below {
				t.Errorf("rung %d: %+v", rung, f)
			}
		}
	}
}
