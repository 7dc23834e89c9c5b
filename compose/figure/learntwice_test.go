package figure

import (
	"bytes"
	"testing"

	"onward/compose/score"
)

// A figure that a measure has twice, once plainly and once with a strange reading (a
// chromatic shape, odd spelling), is counted twice, and never less than nothing within
// others; so what is learned can be written and read.
func TestLearnTwiceInOneMeasure(t *testing.T) {
	c := Default()
	for _, text := range []string{
		"key G; 4/4 D3:8 D4:8 D3:4 Eb3:8 Eb4:8 Eb3:4 |",
		"key G; 4/4 G3:8 B3:16 A3:16 G3:8 E3:8 F#3:8 A3:16 G3:16 F#3:8 D#3:8 |",
		"key Eb; 4/4 r:16 F3:16 Ab3:16t r:32t E3:32t F3:16t C4:4 r:16 F3:16 Ab3:16t r:32t E3:32t F3:16t C3:4 |",
	} {
		part := score.MustText(text)
		v := c.Learn(&part)
		for _, e := range v.Figures {
			if e.Count < 0 || e.Within < 0 || e.Count+e.Within == 0 {
				t.Errorf("%s: %s on %s: count %d, within %d", text, e.Shape, e.Cell, e.Count, e.Within)
			}
		}
		var file bytes.Buffer
		if err := WriteVocabulary(&file, v); err != nil {
			t.Fatal(err)
		}
		if _, err := c.ReadVocabulary(&file, "v.toml"); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
}
