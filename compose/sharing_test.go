package compose_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/styles"
	"onward/theory"
)

func TestMeasuresThatAreTheSame(t *testing.T) {
	const head = "key C; 4/4 treble "
	one := func(text string) uint64 {
		t.Helper()
		p := score.MustText(text)
		m := compose.MeasuresOf(&p)
		if len(m) == 0 {
			t.Fatalf("%q has no measures", text)
		}
		return m[0]
	}
	plain := one(head + "C4:4 D4:4 E4:2 |]")
	for _, c := range []struct {
		what, text string
		same       bool
	}{
		{"marks", head + "f C4:4' D4:4( E4:2) |]", true},
		{"a grace note", head + "C4:4 {E4}D4:4 E4:2 |]", true},
		{"the same sound in another signature", "key F; 4/4 treble C4:4 D4:4 E4:2 |]", true},
		{"ties within", head + "C4:4 D4:8~ D4:8 E4:2 |]", true},
		{"the concert pitch, a tone above as a B-flat instrument writes it", "sounds -1 -2; key D; 4/4 treble D4:4 E4:4 F#4:2 |]", true},
		{"another pitch", head + "C4:4 D4:4 F4:2 |]", false},
		{"an octave above", head + "C5:4 D5:4 E5:2 |]", false},
		{"another rhythm", head + "C4:4. D4:8 E4:2 |]", false},
		{"a shorter note and a rest", head + "C4:4 D4:4 E4:4 r:4 |]", false},
		{"a tie over the barline", head + "C4:4 D4:4 E4:2~ | E4:1 |]", false},
		{"another meter", "key C; cut treble C4:4 D4:4 E4:2 |]", false},
	} {
		if got := one(c.text) == plain; got != c.same {
			t.Errorf("%s: same is %v, want %v", c.what, got, c.same)
		}
	}
	p := score.MustText(head + "C4:1 | D4:1~ | D4:1 | R | C4:1 |]")
	if m := compose.MeasuresOf(&p); len(m) != 3 || m[0] != m[2] || m[0] == m[1] {
		t.Errorf("measures %x: want the one of C twice and that of D between, none where nothing begins", m)
	}
}

// A library remembers measures by text, found without the composer's help. It is a
// compose.Measures of what it was told.
type library struct {
	hashes [][]uint64
	texts  [][]string
	asked  int
}

func (l *library) Shared(measures []uint64) ([]uint64, error) {
	l.asked++
	var most []uint64
	for _, read := range l.hashes {
		var has []uint64
		for _, m := range measures {
			if slices.Contains(read, m) {
				has = append(has, m)
			}
		}
		if len(has) >= len(most) {
			most = has
		}
	}
	return most, nil
}

// add remembers a read, and reports how many of its measures the earlier one has that has
// most, and how many it has that are numbered and no first ending.
func (l *library) add(r *compose.Read) (shared, body int) {
	part := &r.Score.Parts[0]
	var own []string
	for i := range part.Measures {
		m := &part.Measures[i]
		text := fmt.Sprint(r.Meter, m.Implicit)
		begun := false
		for j, n := range m.Notes {
			if !n.Rest && !(j == 0 && n.TieStop) {
				begun = true
			}
			if n.Rest {
				continue
			}
			text += fmt.Sprint(" ", n.At, n.Value.Duration(), n.TieStop, n.TieStart, n.Pitch.MIDI())
		}
		if begun {
			own = append(own, text)
			if !m.Implicit && m.Ending != 1 {
				body++
			}
		}
	}
	for _, earlier := range l.texts {
		n := 0
		for _, text := range own {
			if slices.Contains(earlier, text) {
				n++
			}
		}
		shared = max(shared, n)
	}
	l.texts, l.hashes = append(l.texts, own), append(l.hashes, compose.MeasuresOf(part))
	return shared, body
}

func snippet(t *testing.T, style string, rung int, seed uint64) compose.Request {
	t.Helper()
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		t.Fatal(err)
	}
	return compose.Request{Style: sheet, Rung: rung, Instrument: in, Form: "snippet", Seed: seed}
}

// No read has more than 30 % of its measures in one earlier read, or it says so.
func TestReadsShareFewMeasures(t *testing.T) {
	for _, rung := range []int{1, 3, 6} {
		t.Run(fmt.Sprint(rung), func(t *testing.T) {
			t.Parallel()
			shareFew(t, rung)
		})
	}
}

func shareFew(t *testing.T, rung int) {
	w, l := world(t), &library{}
	w.Measures = l
	const reads = 60
	said, most := 0, 0
	for seed := range uint64(reads) {
		r, err := compose.Compose(w, snippet(t, styles.Names()[seed%2], rung, seed))
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		says := slices.ContainsFunc(r.Loosened, func(s string) bool { return strings.Contains(s, "stand in one earlier read") })
		shared, body := l.add(r)
		if (shared*10 > body*3) != says {
			t.Errorf("seed %d: %d of %d measures shared; said: %v", seed, shared, body, says)
		}
		if r.Certificate.Shared < shared || r.Certificate.Measures != body {
			t.Errorf("seed %d: the certificate has %d of %d, want %d of %d", seed, r.Certificate.Shared, r.Certificate.Measures, shared, body)
		}
		if says {
			said++
		}
		most = max(most, shared)
	}
	if l.asked <= 2*reads || most == 0 {
		t.Errorf("asked %d times for %d reads, at most %d measures shared: nothing was drawn anew", l.asked, reads, most)
	}
	t.Logf("%d times asked, at most %d shared, %d reads say that it is too much", l.asked, most, said)
}

// A wall has all measures that it is asked for, until it was asked so often.
type wall struct {
	until, asked int
	err          error
}

func (w *wall) Shared(measures []uint64) ([]uint64, error) {
	if w.asked++; w.asked > w.until {
		return nil, w.err
	}
	return measures, nil
}

func TestMeasuresUsedUp(t *testing.T) {
	w := world(t)
	all := &wall{until: 1 << 30}
	w.Measures = all
	r, err := compose.Compose(w, snippet(t, "march", 6, 3))
	if err != nil {
		t.Fatal(err)
	}
	if all.asked < 20 || all.asked > 200 {
		t.Errorf("asked %d times, want a bounded number of draws", all.asked)
	}
	c := r.Certificate
	want := fmt.Sprintf("%d of its %d measures stand in one earlier read, where %d are let", c.Shared, c.Measures, c.Measures*3/10)
	if c.Shared == 0 || len(r.Loosened) == 0 || r.Loosened[len(r.Loosened)-1] != want {
		t.Errorf("loosened %q, want %q last", r.Loosened, want)
	}
	late := &wall{until: all.asked / 2}
	w.Measures = late
	if r, err = compose.Compose(w, snippet(t, "march", 6, 3)); err != nil || r.Certificate.Shared != 0 {
		t.Errorf("%+v, %v: want the read that shares nothing, drawn after others", r.Certificate, err)
	}
	broken := errors.New("the shelf fell over")
	w.Measures = &wall{err: broken}
	if _, err := compose.Compose(w, snippet(t, "march", 6, 3)); !errors.Is(err, broken) {
		t.Errorf("got %v, want what the memory said", err)
	}
}
