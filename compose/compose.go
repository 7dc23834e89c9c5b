package compose

import (
	"errors"
	"fmt"
	"math"

	"onward/compose/score"
)

// attempts is how often a melody is drawn at most. Seams that no lattice sees, from a
// repeat sign back to its strain's start, are looked up on the finished page; where one
// makes a run that was heard before, the melody is drawn anew.
const attempts = 8

// Compose makes the read that the request asks for. A *RequestError says that it
// cannot be met and what to change; any other error is a fault of the program or of
// what remembers earlier reads.
func Compose(w *World, req Request) (*Read, error) {
	p, err := settle(w, req)
	if err != nil {
		return nil, err
	}
	for _, stage := range []func() error{p.form, p.harmony, p.rhythms} {
		if err := stage(); err != nil {
			return nil, err
		}
	}
	for {
		if err := p.melody(); err != nil {
			return nil, err
		}
		r, err := p.finish()
		var again *returnedError
		if p.attempt++; !errors.As(err, &again) || p.attempt == attempts {
			return r, err
		}
		p.clear()
	}
}

// thousandths rounds a figure to what is worth saying, the same on every machine.
func thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }

// finish writes the page, marks it, and proves it.
func (p *piece) finish() (*Read, error) {
	r := p.assemble()
	p.marks(r)
	part := &r.Score.Parts[0]
	score.SetTuplets(part)
	score.SetBeams(part)
	score.SetAccidentals(part)
	r.Fresh = p.fresh(r)
	for _, l := range p.load(part) {
		r.Load = append(r.Load, thousandths(l))
	}
	r.Coverage, r.LegalLog10 = thousandths(p.coverage(part)), thousandths(r.LegalLog10)
	r.Identity = p.req.Identity()
	r.Score.Identity = r.Identity
	if err := score.Check(r.Score).Err(); err != nil {
		return nil, fmt.Errorf("compose: seed %d: %w", p.req.Seed, err)
	}
	var err error
	r.Certificate, err = certify(r, p.world, p.req, p.run)
	return r, err
}
