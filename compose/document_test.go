package compose

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

func TestBeatAt(t *testing.T) {
	for _, c := range []struct {
		meter string
		at    rhythm.Duration
		want  string
	}{
		{"4/4", 0, "1"}, {"4/4", rhythm.Half, "3"}, {"2/4", rhythm.Eighth, "1+1/2"}, {"2/4", rhythm.Quarter + rhythm.Sixteenth, "2+1/4"},
		{"6/8", rhythm.Quarter + rhythm.Eighth, "2"}, {"6/8", rhythm.Eighth, "1+1/3"}, {"6/8", 5 * rhythm.Eighth, "2+2/3"},
		{"cut", rhythm.Half, "2"}, {"cut", rhythm.Quarter, "1+1/2"}, {"4/4", rhythm.Quarter / 3, "1+1/3"},
	} {
		m, err := rhythm.ParseMeter(c.meter)
		if err != nil {
			t.Fatal(err)
		}
		if got := beatAt(m, rhythm.Offset(c.at)); got != c.want {
			t.Errorf("%d ticks into %s: beat %s, want %s", c.at, c.meter, got, c.want)
		}
	}
}

// documented composes a march and reports its document as other programs read it.
func documented(t *testing.T, v *figure.Vocabulary) (*Read, map[string]any) {
	t.Helper()
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := styles.Shipped("march")
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("trumpet")
	if err != nil {
		t.Fatal(err)
	}
	r, err := Compose(&World{Catalogue: catalogue, Ladder: rungs}, Request{Style: sheet, Rung: 9, Instrument: in, Form: "march", Seed: 3, Vocabulary: v})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(r.Document(17))
	if err != nil {
		t.Fatal(err)
	}
	var d map[string]any
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	return r, d
}

// The names are other programs' to rely upon.
func TestDocumentNames(t *testing.T) {
	_, d := documented(t, nil)
	names := func(v any) string {
		var all []string
		for name := range v.(map[string]any) {
			all = append(all, name)
		}
		slices.Sort(all)
		return strings.Join(all, " ")
	}
	for _, c := range []struct {
		what string
		of   any
		want string
	}{
		{"document", d, "breaths certificate chords coverage difficulty figures fresh identity instrument key legal_log10 load loosened measures meter rung sections style tempo title traps"},
		{"identity", d["identity"], "generator_version request seed"},
		{"instrument", d["instrument"], "clef id name"},
		{"key", d["key"], "concert written"},
		{"tempo", d["tempo"], "beat bpm"},
		{"certificate", d["certificate"], "against compared earlier_reads length longest_shared shared_measures"},
		{"chord", d["chords"].([]any)[0], "beat chord measure ticks"},
		{"breath", d["breaths"].([]any)[0], "beat marked measure ticks"},
		{"figure", plainFigure(d), "beat cell known measure name notes shape ticks"},
	} {
		if got := names(c.of); got != c.want {
			t.Errorf("%s has %q, want %q", c.what, got, c.want)
		}
	}
}

// plainFigure reports a figure that is no trap, which has a name more.
func plainFigure(d map[string]any) any {
	for _, f := range d["figures"].([]any) {
		if f.(map[string]any)["trap"] == nil {
			return f
		}
	}
	return nil
}

// The document counts measures as the page does, and holds all that the read does.
func TestDocumentSaysWhatTheReadIs(t *testing.T) {
	r, d := documented(t, nil)
	list := func(name string) []any { return d[name].([]any) }
	for name, want := range map[string]int{"sections": len(r.Sections), "chords": len(r.Chords), "figures": len(r.Figures),
		"traps": len(r.Traps), "breaths": len(r.Breaths), "load": len(r.Load), "fresh": len(r.Fresh), "loosened": len(r.Loosened)} {
		if len(list(name)) != want {
			t.Errorf("%d %s, want %d", len(list(name)), name, want)
		}
	}
	for i, s := range list("sections") {
		got := s.(map[string]any)["measure"].(float64)
		if want := r.Score.Parts[0].Measures[r.Sections[i].First].Number; int(got) != want {
			t.Errorf("section %d begins in measure %v, want %d", i, got, want)
		}
	}
	if d["coverage"] != nil {
		t.Errorf("coverage %v without a vocabulary", d["coverage"])
	}
	key := d["key"].(map[string]any)
	if sounds, err := theory.ParseKey(key["concert"].(string)); err != nil || sounds != r.Key {
		t.Errorf("concert key %v, want %s", key["concert"], r.Key)
	}
	// A B-flat trumpet reads a whole tone above what sounds: two sharps more.
	written, err := theory.ParseKey(key["written"].(string))
	if err != nil || written.Fifths != r.Key.Fifths+2 {
		t.Errorf("written key %v of concert %s", key["written"], r.Key)
	}
	if c := d["certificate"].(map[string]any); c["earlier_reads"] != 17.0 || c["length"] != 9.0 {
		t.Errorf("certificate %v", c)
	}
}

func TestDocumentCoverage(t *testing.T) {
	v := &figure.Vocabulary{Figures: []figure.Entry{{Figure: figure.Figure{Shape: "triad up", Cell: "three eighths"}, Count: 1, Notes: 3}}}
	r, d := documented(t, v)
	if d["coverage"] != r.Coverage {
		t.Errorf("coverage %v, want %v", d["coverage"], r.Coverage)
	}
}
