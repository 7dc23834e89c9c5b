package figure

import (
	"fmt"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/rhythm"
)

// figures reports what was found, measure by measure: "shape/cell" in order.
func figures(found []Found) string {
	var s []string
	for _, f := range found {
		s = append(s, fmt.Sprintf("%d:%s/%s", f.Measure, f.Shape, f.Cell))
	}
	return strings.Join(s, "; ")
}

func TestRecognize(t *testing.T) {
	for _, tt := range []struct{ name, music, want string }{
		{"the longest figure wins", "4/4 C4:8 D4:8 E4:8 F4:8 G4:8 F4:8 E4:8 D4:8",
			"0:five up and on the way back/eight eighths"},
		{"figures begin on a beat", "2/4 C4:4. D4:8",
			"0:step up/dotted quarter-eighth"},
		{"a figure lies in one measure", "2/4 C4:4 D4:8 E4:8 | F4:8 G4:8 F4:4",
			"0:three up/quarter, two eighths; 1:upper neighbour/two eighths, quarter"},
		{"ties merged", "2/4 C4:8 D4:8~ D4:8 E4:8",
			"0:three up/eighth-quarter-eighth"},
		{"a tie over the barline", "2/4 C4:2~ | C4:8 D4:8 E4:8 F4:8",
			"0:long note/half; 1:three up/rest, three eighths"},
		{"grace notes", "6/8 {B3,C4}D4:16 E4:16 F4:4 r:4.",
			"0:three up/two sixteenths, quarter with two grace notes"},
		{"grace notes as a machine writes them", "2/4 C4:8. r:32 D4:64 E4:64 F4:4",
			"0:fourth up/two quarters"},
		{"grace notes that the cell has not", "2/4 {D4}C4:8 E4:8 D4:8 F4:8",
			"0:thirds up/four eighths"},
		{"shortened notes", "2/4 F4:16 r:32 E4:32 F4:16 r:32 G4:32 A4:4",
			"0:step down and steps up/dotted sixteenth-thirty-second twice; 0:long note/quarter"},
		{"a pickup", "6/8 C4:8 | F4:4 C4:8 A3:4.",
			"0:long note/quarter rest, eighth; 1:triad down/quarter-eighth, dotted quarter"},
		{"a pickup of a measure's end", "4/4 G4:8 A4:8 | C5:1",
			"0:step up/two eighths; 1:long note/whole"},
		{"short note first", "6/8 C4:16 D4:16 E4:4 F4:16 G4:8. A4:8",
			"0:three up/two sixteenths, quarter; 0:three up/sixteenth-dotted eighth-eighth"},
		{"chromatic neighbour", "key C; 2/4 G4:8 F#4:8 G4:4",
			"0:chromatic lower neighbour/two eighths, quarter"},
		{"diatonic neighbour", "key G; 2/4 G4:8 F#4:8 G4:4",
			"0:lower neighbour/two eighths, quarter"},
		{"chromatic run", "key Bb; 2/4 Bb3:16 B3:16 C4:16 C#4:16 D4:4",
			"0:chromatic five up/four sixteenths, quarter"},
		{"spelled as a machine does", "key C minor; 2/4 C4:8 D4:8 D#4:8 F4:8",
			"0:four up/four eighths"},
		{"raised notes of minor", "key C minor; 2/4 G4:8 A4:8 B4:8 C5:8",
			"0:four up/four eighths"},
		{"the dominant seventh", "key F; 2/4 C4:8 E4:8 G4:8 Bb4:8",
			"0:dominant seventh up/four eighths"},
		{"the tonic arpeggio", "key F; 2/4 F4:8 A4:8 C5:8 F5:8",
			"0:triad up to the octave/four eighths"},
		{"the arpeggio that leaves the third out", "key F; 2/4 F4:8 C5:8 F5:8 A5:8",
			"0:triad up to the octave without the third/four eighths"},
		{"a known rhythm, a strange shape", "2/4 C4:16 B4:16 A3:16 G#4:16 C4:4",
			"0:/four sixteenths; 0:long note/quarter"},
		{"a strange rhythm", "2/4 C4:16 D4:16 E4:32 F4:16. G4:4",
			"0:long note/quarter"},
		{"two halves, not cut time", "2/2 C4:2 D4:4 E4:4",
			"0:three up/half, two quarters"},
		{"a meter without cells of its own", "12/8 C4:4 D4:8 E4:8 D4:8 C4:8 D4:4. D4:4.",
			"0:three up and back/quarter-eighth, three eighths; 0:repeated two/two dotted quarters"},
		{"silence", "3/4 R | r:4 r:2", ""},
	} {
		p := score.MustText(tt.music)
		if got := figures(Default().Recognize(&p)); got != tt.want {
			t.Errorf("%s: %s:\n got %s\nwant %s", tt.name, tt.music, got, tt.want)
		}
	}
}

func TestFoundPlaces(t *testing.T) {
	p := score.MustText("6/8 C4:8 | {D4}F4:4.~ F4:4 E4:8 | r:8 C4:8 D4:8 E4:4.")
	found := Default().Recognize(&p)
	want := []Found{
		{Figure{"long note", "quarter rest, eighth"}, 0, -rhythm.Offset(rhythm.Quarter), 0, 1},
		{Figure{"step down", "long tie across the beat"}, 1, 0, 1, 2},
		{Figure{"step up", "rest, two eighths"}, 2, 0, 3, 2},
		{Figure{"long note", "dotted quarter"}, 2, rhythm.Offset(3 * rhythm.Eighth), 5, 1},
	}
	if fmt.Sprint(found) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", found, want)
	}
	var heard []string
	for _, o := range Onsets(&p) {
		heard = append(heard, fmt.Sprintf("%d.%d %s %d", o.Measure, o.Note, o.Pitch, o.Length/rhythm.Eighth))
	}
	if got, want := strings.Join(heard, ", "), "0.0 C4 1, 1.0 F4 5, 1.2 E4 1, 2.1 C4 1, 2.2 D4 1, 2.3 E4 3"; got != want {
		t.Errorf("onsets: got %s, want %s", got, want)
	}
}

func BenchmarkRecognize(b *testing.B) {
	p := score.MustText(strings.Repeat("key Bb; 4/4 Bb3:8 C4:8 D4:8 Eb4:8 F4:16 D4:16 Bb3:16 D4:16 F4:4 | ", 32))
	b.ReportAllocs()
	for b.Loop() {
		Default().Recognize(&p)
	}
}
