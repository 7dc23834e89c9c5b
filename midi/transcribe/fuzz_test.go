package transcribe

import (
	"bytes"
	"testing"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/midi/file"
)

// Whatever a file plays is written down in whole measures, or refused.
func FuzzWrite(f *testing.F) {
	for _, text := range []string{
		"key Bb; 4/4 treble Bb4:4 C5:8 D5:8 Eb5:4 r:4 | F5:8 F5:16 G5:16 F5:8 Eb5:8 D5:4. C5:8 | 3/4 Bb4:2. |]",
		"key C; 2/4 treble C5:8 {D5,E5}F5:8 F#5:8 G5:8 | A5:8t Ab5:8t G5:8t G5:4 |]",
	} {
		p := score.MustText(text)
		var b bytes.Buffer
		if err := file.Write(&b, played(f, &p), "Exercise", ""); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		take, err := file.Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		voices := Voices(take)
		for _, v := range voices[:min(3, len(voices))] {
			page, err := Write(take, v)
			if err != nil {
				continue
			}
			for i := range page.Part.Measures {
				m := &page.Part.Measures[i]
				at := m.Notes[0].At
				for _, n := range m.Notes {
					if n.At != at {
						t.Errorf("%s, measure %d: a note at %d, want %d", v, i+1, n.At, at)
					}
					at = at.Add(n.Duration(m))
				}
				if at.Since(0) != m.Length {
					t.Errorf("%s, measure %d: its notes fill %d of %d", v, i+1, at, m.Length)
				}
			}
			if len(page.Part.Measures) < 200 && len(figure.Onsets(&page.Part)) == 0 {
				t.Errorf("%s: a page without notes", v)
			}
		}
	})
}
