package critic_test

import (
	"bytes"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"onward/compose/critic"
	"onward/compose/tune"
)

// notes makes notes of onset, ticks and step, one after another.
func notes(values ...int) []tune.Note {
	var all []tune.Note
	for ; len(values) >= 3; values = values[3:] {
		all = append(all, tune.Note{Onset: values[0], Ticks: values[1], Step: values[2]})
	}
	return all
}

// answered is four measures of 2/4: an idea, the idea a step higher, the idea again, a close.
var answered = &tune.Tune{Beats: 2, Unit: 4, Measures: 4, Notes: notes(
	0, 12, 0, 12, 12, 1, 24, 24, 2,
	48, 12, 1, 60, 12, 2, 72, 24, 3,
	96, 12, 0, 108, 12, 1, 120, 24, 2,
	144, 24, 4, 168, 24, 0)}

// syncopated is two measures of 2/4 with a pickup, a note held over the barline and rests.
var syncopated = &tune.Tune{Beats: 2, Unit: 4, Measures: 2, Notes: notes(
	-12, 12, 4, 0, 24, 0, 36, 24, 1, 60, 12, 2, 84, 12, 0)}

// rocking is two measures of 2/4 that go to and fro.
var rocking = &tune.Tune{Beats: 2, Unit: 4, Measures: 2, Notes: notes(
	0, 12, 0, 12, 12, 1, 24, 12, 0, 36, 12, 1, 48, 24, 0, 72, 24, 1)}

// Values counted by hand from the notes.
func TestFeaturesOfSmallTunes(t *testing.T) {
	for _, c := range []struct {
		tune *tune.Tune
		name string
		want float64
	}{
		{answered, "interval.one +1", 6. / 10},
		{answered, "interval.one -3", 1. / 10},
		{answered, "interval.two +1,+1", 3. / 9},
		{answered, "interval.degree 1", 3. / 11},
		{answered, "interval.degrees 51", 1. / 10},
		{answered, "interval.downbeat degree 1", 2. / 4},
		{answered, "interval.steps of moving", 7. / 10},
		{answered, "interval.up of moving", 7. / 10},
		{answered, "interval.turns", 5. / 9},
		{answered, "interval.leap answered by step back", 1},
		{answered, "interval.neighbour", 2. / 9},
		{answered, "interval.scale of four", 0},
		{answered, "interval.step over barline", 1. / 3},
		{answered, "interval.leap over barline", 1. / 3},
		{answered, "rhythm.cell x-x---", 3. / 8},
		{answered, "rhythm.cell x-----", 5. / 8},
		{answered, "rhythm.same cell 1 before", 2. / 7},
		{answered, "rhythm.same cell 2 before", 5. / 6},
		{answered, "rhythm.kinds of cells", 2 / math.Sqrt(8)},
		{answered, "rhythm.ticks 24", 5. / 11},
		{answered, "form.same rhythm 1 before", 2. / 3},
		{answered, "form.same shape 1 before", 2. / 3},
		{answered, "form.sequence 1 before", 2. / 3},
		{answered, "form.same measure 2 before", 1. / 2},
		{answered, "form.sequence 2 before", 0},
		{answered, "form.pitches shared 2 before", 3. / 6},
		{answered, "form.same rhythm 8 before", 0},
		{answered, "form.kinds of rhythms", 2. / 4},
		{answered, "form.kinds of shapes", 2. / 4},
		{answered, "form.kinds of measures", 3. / 4},
		{answered, "form.rhythms of the first two", 1. / 2},
		{answered, "form.longest run of one rhythm", 3},
		{answered, "form.notes in measure 4 of four", 2 / (11. / 4)},
		{answered, "form.3 intervals come again", 0},
		{rocking, "form.3 intervals come again", 1. / 3},
		{rocking, "interval.neighbour", 1},
		{answered, "cadence.measure 4 last degree 1", 1},
		{answered, "cadence.measure 4 first degree 5", 1},
		{answered, "cadence.measure 4 last note late", 1. / 2},
		{answered, "cadence.measure 8 last degree 1", 0},
		{answered, "cadence.last interval -4", 1},
		{answered, "contour.eighth 1", 1./2 - 16./11},
		{answered, "contour.place of peak", 3. / 4},
		{answered, "contour.span of a measure", 10. / 4},
		{answered, "harmony.time in I", 2.75 / 4},
		{answered, "harmony.clearness", 3.25 / 4},
		{answered, "harmony.pure measures", 1. / 4},
		{answered, "harmony.chord V", 1. / 4},
		{answered, "harmony.changes", 2. / 3},
		{answered, "harmony.broken chords", 1. / 11},
		{syncopated, "rhythm.held over barlines", 1. / 2},
		{syncopated, "rhythm.rests", 2. / 2},
		{syncopated, "rhythm.silence", 12. / 96},
		{syncopated, "rhythm.syncopation", 1. / 5},
		{syncopated, "rhythm.off the beat", 4. / 5},
		{syncopated, "rhythm.downbeats sounded", 1. / 2},
		{syncopated, "rhythm.beats sounded", 1. / 4},
		{syncopated, "rhythm.cell --x---", 3. / 4},
		{syncopated, "cadence.pickup notes", 1},
		{syncopated, "cadence.pickup length", 1. / 4},
	} {
		k := slices.Index(critic.Names(), c.name)
		if k < 0 {
			t.Errorf("there is no feature %q", c.name)
			continue
		}
		if got := critic.Features(c.tune)[k]; math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: got %g, want %g", c.name, got, c.want)
		}
	}
}

func TestFeaturesHaveNamesOfTheirOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, name := range critic.Names() {
		if seen[name] {
			t.Errorf("two features are named %q", name)
		}
		seen[name] = true
	}
	long := &tune.Tune{Beats: 12, Unit: 8, Measures: 32, Notes: notes(0, 12, 0, 96*40, 12, 8)}
	for _, one := range []*tune.Tune{answered, syncopated, long} {
		if got := len(critic.Features(one)); got != len(seen) {
			t.Errorf("a tune of %d measures has %d features, want %d", one.Measures, got, len(seen))
		}
	}
}

const file = `# A head.

critic march 2/4 -0.5000
# 3 real tunes
0.7500 0.2000 0.0500 interval.repeats
-1.2500 2.0000 0.5000 form.longest run of one rhythm

critic song 3/4 0.2500
1.0000 0.0000 1.0000 rhythm.silence
`

func TestScoreIsASumOfTerms(t *testing.T) {
	all, err := critic.Read(strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	// No repeat in it, a run of three: -0.5 + 0.75*(0-0.2)/0.05 - 1.25*(3-2)/0.5.
	if got, want := all.Of("march", "2/4").Score(answered), -0.5-3-2.5; math.Abs(got-want) > 1e-12 {
		t.Errorf("got %g, want %g", got, want)
	}
	if got, want := all.Of("song", "3/4").Score(syncopated), 0.25+0.125; got != want {
		t.Errorf("got %g, want %g", got, want)
	}
	if c := all.Of("march", "3/4"); c != nil {
		t.Errorf("got a critic of a march in 3/4: %+v", c)
	}
}

func TestFilesAreReadAsTheyAreWritten(t *testing.T) {
	all, err := critic.Read(strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := all.Write(&b); err != nil {
		t.Fatal(err)
	}
	if b.String() != file {
		t.Errorf("got\n%s\nwant\n%s", &b, file)
	}
	again, err := critic.Read(&b)
	if err != nil || !reflect.DeepEqual(again, all) {
		t.Errorf("got %+v, %v; want %+v", again, err, all)
	}
}

func TestReadSaysWhere(t *testing.T) {
	for text, want := range map[string]string{
		"1 2 3 rhythm.silence":                            `line 1: "1 2 3 rhythm.silence" stands ahead of the first`,
		"critic march 2/4":                                `line 1: "critic march 2/4" is not "critic KIND METER BIAS"`,
		"critic march 2/4 0\n\n1 2 3":                     "line 3: \"1 2 3\" is not weight, mean, spread",
		"critic march 2/4 0\n1 two 3 rhythm.silence":      "line 2: ",
		"critic march 2/4 0\n1 2 3 rhythm.applause":       `line 2: there is no feature "rhythm.applause"`,
		"critic march 2/4 0\n# note\n1 2 0 rhythm.rests":  `line 3: the spread of "rhythm.rests" is 0`,
		"critic march 2/4 0\n1 2 NaN rhythm.downbeats so": "line 2: ",
	} {
		if _, err := critic.Read(strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: got %v, want %s", text, err, want)
		}
	}
}

func TestShippedCritics(t *testing.T) {
	if _, err := critic.Shipped("polka", "7/8"); err == nil {
		t.Error("got a critic of a polka in 7/8")
	}
}

func BenchmarkScore(b *testing.B) {
	t := &tune.Tune{Beats: 2, Unit: 4, Measures: 16}
	for i := range 4 {
		for _, n := range answered.Notes {
			n.Onset += 192 * i
			t.Notes = append(t.Notes, n)
		}
	}
	all, err := critic.Read(strings.NewReader(file))
	if err != nil {
		b.Fatal(err)
	}
	c := all.Of("march", "2/4")
	b.ReportAllocs()
	for b.Loop() {
		c.Score(t)
	}
}
