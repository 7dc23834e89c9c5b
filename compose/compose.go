package compose

import (
	"fmt"

	"onward/compose/score"
)

// Compose makes the read that the request asks for. A *RequestError says that it
// cannot be met and what to change; any other error is a fault of the program or of
// what remembers earlier reads.
func Compose(w *World, req Request) (*Read, error) {
	p, err := settle(w, req)
	if err != nil {
		return nil, err
	}
	for _, stage := range []func() error{p.form, p.harmony, p.rhythms, p.melody} {
		if err := stage(); err != nil {
			return nil, err
		}
	}
	r := p.assemble()
	p.marks(r)
	part := &r.Score.Parts[0]
	score.SetTuplets(part)
	score.SetBeams(part)
	score.SetAccidentals(part)
	r.Fresh = p.fresh(r)
	r.Load = p.load(part)
	r.Coverage = p.coverage(part)
	r.Identity = req.Identity()
	r.Score.Identity = r.Identity
	if err := score.Check(r.Score).Err(); err != nil {
		return nil, fmt.Errorf("compose: seed %d: %w", req.Seed, err)
	}
	r.Certificate, err = certify(r, w, req, p.run)
	return r, err
}
