package figure

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/theory"
)

const drill = `key Bb; 2/4 Bb3:16 C4:16 D4:16 Eb4:16 F4:16 D4:16 Bb3:8 |
	Bb3:16 C4:16 D4:16 Eb4:16 F4:4 | C4:16 B4:16 A3:16 Ab4:16 F4:32 C4:16. F4:8`

func TestLearn(t *testing.T) {
	p := score.MustText(drill)
	v := Default().Learn(&p)
	if v.Total != 19 || v.Explained != 12 {
		t.Errorf("%d of %d notes explained, want 12 of 19", v.Explained, v.Total)
	}
	for _, tt := range []struct {
		f    Figure
		want Entry
	}{
		{Figure{"five up", "four sixteenths, quarter"}, Entry{Count: 1, Notes: 5}},
		{Figure{"four up", "four sixteenths"}, Entry{Count: 1, Within: 1, Notes: 4}},
		{Figure{"triad down", "two sixteenths and eighth"}, Entry{Count: 1, Notes: 3}},
		{Figure{"long note", "quarter"}, Entry{Within: 1}},
	} {
		i, ok := v.find(tt.f)
		if !ok {
			t.Errorf("%v was not learned", tt.f)
			continue
		}
		if tt.want.Figure = tt.f; v.Figures[i] != tt.want {
			t.Errorf("got %+v, want %+v", v.Figures[i], tt.want)
		}
	}
	if v.Knows(Figure{"four down", "four sixteenths"}) || v.Knows(Figure{"steps up then chord", "four sixteenths"}) || !v.Knows(Figure{"four up", "four sixteenths"}) {
		t.Error("knows what it should not, or not what it should")
	}
	if want := []KeyCount{{theory.Key{Fifths: -2}, 3}}; !reflect.DeepEqual(v.Keys, want) {
		t.Errorf("keys %v, want %v", v.Keys, want)
	}
	if want := []MeterCount{{"2/4", 3}}; !reflect.DeepEqual(v.Meters, want) {
		t.Errorf("meters %v, want %v", v.Meters, want)
	}
	want := []CellCount{{"four sixteenths", 2}, {"two sixteenths and eighth", 1}, {"four sixteenths, quarter", 1}}
	if !reflect.DeepEqual(v.Cells, want) {
		t.Errorf("cells %v, want %v", v.Cells, want)
	}
}

func TestWeight(t *testing.T) {
	p := score.MustText(drill)
	v := Default().Learn(&p)
	often, once := v.Weight(Figure{"four up", "four sixteenths"}), v.Weight(Figure{"triad down", "two sixteenths and eighth"})
	if often != 1 || once <= 0 || once >= 1 || v.Weight(Figure{"four down", "four sixteenths"}) != 0 {
		t.Errorf("weights %v, %v; want 1, between 0 and 1, and 0 for the unknown", often, once)
	}
}

// What was drilled covers what is made of it; a reader without it is not covered.
func TestCoverage(t *testing.T) {
	p := score.MustText("key C; 2/4 C4:16 D4:16 E4:16 F4:16 G4:4 | F4:16 E4:16 D4:16 C4:16 C4:4")
	known := score.MustText("key F; 2/4 F4:16 G4:16 A4:16 Bb4:16 C5:4")
	v := Default().Learn(&known)
	found := Default().RecognizeIn(&p, &v)
	if got, want := v.Coverage(found, len(Onsets(&p))), 0.6; got != want {
		t.Errorf("coverage %v, want %v", got, want)
	}
	if got := (Vocabulary{}).Coverage(found, 10); got != 0 {
		t.Errorf("coverage %v by no vocabulary", got)
	}
	if got := v.Coverage(nil, 0); got != 0 {
		t.Errorf("coverage %v of nothing", got)
	}
}

// A reader's vocabulary decides how a measure is taken in: by its own figures, though
// a longer one outside it would do.
func TestRecognizeInPrefersTheVocabulary(t *testing.T) {
	p := score.MustText("2/4 C4:8 D4:8 E4:8 F4:8")
	pairs := score.MustText("2/4 C4:8 D4:8 C4:8 D4:8 | C4:8 D4:8 A3:4")
	v := Vocabulary{}
	for _, e := range Default().Learn(&pairs).Figures {
		if e.Cell == "two eighths" {
			v.add(e)
		}
	}
	if got, want := figures(Default().RecognizeIn(&p, &v)), "0:step up/two eighths; 0:step up/two eighths"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if got, want := figures(Default().Recognize(&p)), "0:four up/four eighths"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestMergeIsLearningBoth(t *testing.T) {
	a, b := score.MustText(drill), score.MustText("key F; 6/8 F4:8 G4:8 A4:8 C5:4. | key Bb; 2/4 Bb3:2")
	both := Default().Learn(&a, &b)
	if got := Default().Learn(&a).Merge(Default().Learn(&b)); !reflect.DeepEqual(got, both) {
		t.Errorf("got %+v, want %+v", got, both)
	}
}

func TestVocabularyFile(t *testing.T) {
	a, b := score.MustText(drill), score.MustText("key G minor; 6/8 G4:8 A4:8 Bb4:8 D5:4. | key Bb; cut Bb3:1")
	v := Default().Learn(&a, &b)
	var file bytes.Buffer
	if err := WriteVocabulary(&file, v); err != nil {
		t.Fatal(err)
	}
	text := file.String()
	got, err := Default().ReadVocabulary(&file, "warm-ups.toml")
	if err != nil || !reflect.DeepEqual(got, v) {
		t.Errorf("read back %+v, %v, want %+v", got, err, v)
	}
	for _, tt := range []struct{ old, new, want string }{
		{"version = 1", "version = 2", "warm-ups.toml: version 2, this program reads version 1"},
		{"total =", "totals =", `warm-ups.toml:3: unknown key "totals"`},
		{"'five up'", "'five upp'", `no shape "five upp" on a cell "four sixteenths, quarter"`},
		{"'five up'", "'four up'", "of as many notes"},
		{"notes = 5", "notes = 6", "notes 6: the notes are count times 5"},
		{"'G minor'", "'G dorian'", `key 2: key "G dorian"`},
		{"meter = '2/4'", "meter = '2/5'", `meter 1: meter "2/5"`},
		{"cell = 'four sixteenths'\ncount = 2", "cell = 'four'\ncount = 2", `cell 1: no cell "four"`},
	} {
		broken := strings.Replace(text, tt.old, tt.new, 1)
		if broken == text {
			t.Fatalf("%q is not in the file:\n%s", tt.old, text)
		}
		_, err := Default().ReadVocabulary(strings.NewReader(broken), "warm-ups.toml")
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s for %s: got %v, want %s", tt.new, tt.old, err, tt.want)
		}
	}
}

func TestReport(t *testing.T) {
	p := score.MustText(drill)
	var b strings.Builder
	if err := Default().Learn(&p).WriteReport(&b); err != nil {
		t.Fatal(err)
	}
	const want = `notes   19, of which 12 lie in figures (63.1 %)
keys    Bb major (3 measures)
meters  2/4 (3 measures)

notes  times  figure
    5      1  five up, on four sixteenths, quarter
    4      1  four up, on four sixteenths
    3      1  triad down, on two sixteenths and eighth
and 3 more inside these or by another name

times  rhythm
    2  four sixteenths
    1  four sixteenths, quarter
    1  two sixteenths and eighth
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// Whatever is read is written and read again the same.
func FuzzReadVocabulary(f *testing.F) {
	p := score.MustText(drill)
	var file bytes.Buffer
	if err := WriteVocabulary(&file, Default().Learn(&p)); err != nil {
		f.Fatal(err)
	}
	f.Add(file.String())
	f.Add("version = 1\n[[figure]]\nshape = 'step up'\ncell = 'two eighths'\ncount = 1\nnotes = 2\n")
	f.Add("version = 1\n[[key]]\nkey = 'c#m'\nmeasures = 2\n[[meter]]\nmeter = '2/2'\n")
	f.Fuzz(func(t *testing.T, text string) {
		v, err := Default().ReadVocabulary(strings.NewReader(text), "fuzz.toml")
		if err != nil {
			return
		}
		var file bytes.Buffer
		if err := WriteVocabulary(&file, v); err != nil {
			t.Fatal(err)
		}
		again, err := Default().ReadVocabulary(&file, "again.toml")
		if err != nil || fmt.Sprintf("%+v", again) != fmt.Sprintf("%+v", v) {
			t.Errorf("read %+v, again %+v, %v", v, again, err)
		}
	})
}
