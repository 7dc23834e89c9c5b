package quality_test

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/styles"
	"onward/theory"
)

// An order is reads to be made: so many of a style, a rung and a form.
type order struct {
	style, form string
	rung, reads int
	blind       bool
}

// wholePiece is the form that is as long as a real melody of the kind.
var wholePiece = map[string]string{"march": "march", "lyrical": "song"}

// makers is how many reads are made at a time.
const makers = 2

// world makes a composer's world.
func world(tb testing.TB) compose.World {
	tb.Helper()
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		tb.Fatal(err)
	}
	return compose.NewWorld(catalogue, rungs)
}

// each does count things, several at a time, and stops the test at what goes wrong.
func each(tb testing.TB, count int, do func(int) error) {
	tb.Helper()
	faults := make([]error, count)
	var group sync.WaitGroup
	for k := range makers {
		group.Go(func() {
			for i := k; i < count; i += makers {
				faults[i] = do(i)
			}
		})
	}
	group.Wait()
	for _, err := range faults {
		if err != nil {
			tb.Fatal(err)
		}
	}
}

// make composes the order's reads, seeds 1 and on, and measures them.
func (o order) make(tb testing.TB) []*figures {
	tb.Helper()
	w := world(tb)
	w.Blind = o.blind
	style, err := styles.Shipped(o.style)
	if err != nil {
		tb.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		tb.Fatal(err)
	}
	out := make([]*figures, o.reads)
	each(tb, o.reads, func(i int) error {
		req := compose.Request{Style: style, Rung: o.rung, Instrument: in, Form: o.form, Seed: uint64(i + 1)}
		r, err := compose.Compose(&w, req)
		if err != nil {
			return fmt.Errorf("%+v, seed %d: %w", o, req.Seed, err)
		}
		out[i] = measureRead(r)
		return nil
	})
	return out
}

// measureRead measures a read's page, and how its strong beats agree with its chords.
func measureRead(r *compose.Read) *figures {
	part := &r.Score.Parts[0]
	f := measureOf(part)
	k := 0
	for _, t := range melodyOf(part).tones {
		for k+1 < len(r.Chords) && (r.Chords[k+1].Measure < t.measure || r.Chords[k+1].Measure == t.measure && r.Chords[k+1].At <= t.at) {
			k++
		}
		if !t.meter.Strong(t.at) {
			continue
		}
		kind := "out"
		for _, c := range r.Chords[k].Chord.Tones() {
			if c.Chroma() == t.pitch.Transpose(part.Sounds).Class().Chroma() { // a page may be spelled unlike its chords
				kind = "in"
			}
		}
		f.count(chordTones, kind)
	}
	return f
}

// pick lists the melodies of a scope with their weights; meters are the reference's, by
// name.
func pick(all []*figures, scope string, meters map[string]int) []weighed {
	count := map[string]int{}
	for _, f := range all {
		count[f.meter]++
	}
	var out []weighed
	for _, f := range all {
		w := weighed{f, 1}
		switch {
		case scope == evened:
			w.weight = float64(meters[f.meter]) / float64(count[f.meter])
		case scope != "" && !slices.Contains(strings.Fields(scope), f.meter):
			continue
		}
		if w.weight > 0 {
			out = append(out, w)
		}
	}
	return out
}

// A batch is the reads of one column, as sets by scope.
type batch map[string]*set

// batchOf makes the sets that rows ask for.
func batchOf(all []*figures, rows []row, meters map[string]int) batch {
	b := batch{}
	for _, r := range rows {
		if b[r.scope] == nil {
			b[r.scope] = setOf(pick(all, r.scope, meters))
		}
	}
	return b
}

// numberFrom reads a number from the environment.
func numberFrom(tb testing.TB, name string, otherwise int) int {
	text := os.Getenv(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 2 {
		tb.Fatalf("%s=%s: give a number from 2", name, text)
	}
	return n
}

// rungsFrom reads ONWARD_RUNGS.
func rungsFrom(tb testing.TB, otherwise ...int) []int {
	text := os.Getenv("ONWARD_RUNGS")
	if text == "" {
		return otherwise
	}
	var out []int
	for _, word := range strings.Split(text, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(word))
		if err != nil || n < 1 || n > 12 {
			tb.Fatalf("ONWARD_RUNGS=%s: give rungs from 1 to 12 with commas between them", text)
		}
		out = append(out, n)
	}
	return out
}

// stylesFrom reads ONWARD_STYLE.
func stylesFrom(tb testing.TB) []string {
	all := []string{"march", "lyrical"}
	text := os.Getenv("ONWARD_STYLE")
	switch {
	case text == "":
		return all
	case !slices.Contains(all, text):
		tb.Fatalf("ONWARD_STYLE=%s: give one of %s", text, strings.Join(all, ", "))
	}
	return []string{text}
}
