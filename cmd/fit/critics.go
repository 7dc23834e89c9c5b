package main

import (
	"bytes"
	"fmt"
	"os"

	"onward/compose"
	"onward/compose/critic"
	"onward/compose/figure"
	"onward/compose/fit"
	"onward/compose/ladder"
	"onward/compose/tune"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A judged kind of melody has a critic for each of its meters.
type judged struct {
	kind, style string
	form        string // of which reads are made
	meters      []string
	real        func(*tune.Tune) bool
}

var allJudged = []judged{
	{"march", "march", "strain", []string{"2/4", "6/8"}, func(t *tune.Tune) bool {
		return t.Measures == 16 && (t.Kind == "march" && t.Readable() || t.Kind == "dance" && t.Plain())
	}},
	{"song", "lyrical", "strain", []string{"4/4", "3/4"}, func(t *tune.Tune) bool {
		return t.Kind != "march" && t.Measures <= 16 && t.Plain() && mod7(t.Notes[len(t.Notes)-1].Step) == 0
	}},
}

func mod7(n int) int { return ((n % 7) + 7) % 7 }

// criticRungs are the rungs of the reads that critics are learned from.
var criticRungs = []int{6, 7, 8, 9, 10}

// A maker makes read number i of a style, form and meter.
type maker func(style, form string, meter rhythm.Meter, i int) (*compose.Read, error)

// newMaker makes reads for the euphonium, of the rungs in turn.
func newMaker() (maker, error) {
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		return nil, err
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		return nil, err
	}
	w := compose.NewWorld(catalogue, rungs)
	w.Uncritical = true
	return func(style, form string, meter rhythm.Meter, i int) (*compose.Read, error) {
		sheet, err := styles.Shipped(style)
		if err != nil {
			return nil, err
		}
		seed := uint64(1_000_000 + i) // none that a test takes
		return compose.Compose(&w, compose.Request{Style: sheet, Rung: criticRungs[i%len(criticRungs)], Instrument: in, Form: form, Meter: &meter, Seed: seed})
	}, nil
}

// learnCritics learns a critic of each kind and meter from real tunes that are not held back
// and from so many reads.
func learnCritics(rows []*tune.Row, reads int, make maker) (*critic.Critics, error) {
	all := &critic.Critics{}
	for _, j := range allJudged {
		for _, name := range j.meters {
			meter, err := rhythm.ParseMeter(name)
			if err != nil {
				return nil, err
			}
			var real, ours []*tune.Tune
			for _, r := range rows {
				for _, t := range r.Tunes() {
					if t.Beats == meter.Beats && t.Unit == meter.Unit && !t.HeldBack() && j.real(t) {
						real = append(real, t)
					}
				}
			}
			for i := range reads {
				if len(real) == 0 {
					break
				}
				r, err := make(j.style, j.form, meter, i)
				if err != nil {
					return nil, fmt.Errorf("%s in %s, read %d: %w", j.kind, name, i, err)
				}
				if t := closing(r, real[i%len(real)].Measures); t != nil {
					ours = append(ours, t)
				}
			}
			c, err := fit.Critic(j.kind, name, real, ours)
			if err != nil {
				return nil, err
			}
			all.Critics = append(all.Critics, c)
		}
	}
	return all, nil
}

// closing reports so many measures at the end of a read's first strain of sixteen, so that
// ours are as long as real ones and close like them; nil if it is none.
func closing(r *compose.Read, measures int) *tune.Tune {
	part := &r.Score.Parts[0]
	from := r.Sections[0].First
	key, meter, _ := part.At(from)
	return tune.FromPart(part, key, meter, from+16-measures, measures)
}

// writeCritics learns critics and writes them into a file.
func writeCritics(name string, rows []*tune.Row, reads int, date string) error {
	make, err := newMaker()
	if err != nil {
		return err
	}
	all, err := learnCritics(rows, reads, make)
	if err != nil {
		return err
	}
	all.Head = []string{
		"Critics: how like a real tune a whole melody is, by a weighed sum of its features.",
		fmt.Sprintf("From real tunes as in package idiom's files, a third held back, against %d reads of each meter", reads),
		fmt.Sprintf("by the composer of version %d, rungs %d to %d.", compose.Version, criticRungs[0], criticRungs[len(criticRungs)-1]),
		"By: go run ./cmd/fit --from ../shared/melodies/melodies.jsonl --critics " + name + ", on " + date + ".",
		"A critic is a line: kind, meter, bias. A term is weight, mean, spread, feature.",
	}
	var b bytes.Buffer
	if err := all.Write(&b); err != nil {
		return err
	}
	for _, c := range all.Critics {
		fmt.Fprintln(os.Stdout, c.Kind, c.Meter, c.Notes)
	}
	return replace(name, b.Bytes())
}
