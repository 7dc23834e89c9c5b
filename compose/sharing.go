package compose

import (
	"errors"
	"fmt"
	"slices"

	"onward/compose/score"
	"onward/rhythm"
)

// mostShared is the largest share of its measures that a read may have in common with one
// earlier read, in percent.
const mostShared = 30

// mayShare reports how many of so many measures may stand in one earlier read.
func mayShare(measures int) int { return measures * mostShared / 100 }

// count looks the page's measures up among those of earlier reads.
func (c *Certificate) count(p *score.Part, earlier Measures) error {
	var all []uint64
	c.Measures = 0
	for i, h := range measures(p) {
		if h == 0 {
			continue
		}
		all = append(all, h)
		if m := &p.Measures[i]; !m.Implicit && m.Ending != 1 {
			c.Measures++
		}
	}
	if earlier == nil {
		return nil
	}
	shared, err := earlier.Shared(all)
	c.Shared, c.shared = len(shared), shared
	return err
}

// crowded reports whether an earlier read has too many of the read's measures.
func (c *Certificate) crowded() bool { return c.Shared > mayShare(c.Measures) }

// MayShare reports how many of the read's measures may stand in one earlier read.
func (c Certificate) MayShare() int { return mayShare(c.Measures) }

// sharingTries is how often at most a melody is drawn on what was settled, as an earlier
// read has too many of its measures.
const sharingTries = 3

// A wornKey names what a measure that an earlier read has is made of: a cell at its place
// in the measure, and its pitches.
type wornKey struct {
	cell    *rhythm.Cell
	at      rhythm.Offset
	pitches string
}

const (
	wear      = 0.1   // how gladly, against before, what stands in an earlier read is drawn, each time
	leastWorn = 0.001 // the least that comes of it
)

// wearOut has the next draws keep away from what the read shares with an earlier one.
func (p *piece) wearOut(r *Read) {
	hashes, i := measures(&r.Score.Parts[0]), 0
	for _, s := range p.sections {
		for _, b := range p.onPage(s) {
			if slices.Contains(r.Certificate.shared, hashes[i]) {
				for _, sl := range b.slots {
					k := sl.wornKey(sl.pick)
					if p.worn[k] == 0 {
						p.worn[k] = 1
					}
					p.worn[k] = max(p.worn[k]*wear, leastWorn)
				}
			}
			i++
		}
	}
}

// wearOff has a slot's instances drawn less gladly that stand in earlier reads.
func (p *piece) wearOff(sl *slot, insts []instance) {
	if len(p.worn) == 0 || len(insts) == 1 {
		return
	}
	for i := range insts {
		if w, ok := p.worn[sl.wornKey(&insts[i].pick)]; ok {
			insts[i].weight = even(insts[i].weight * w)
		}
	}
}

func (sl *slot) wornKey(pk *pick) wornKey {
	k := make([]byte, 0, len(pk.pitches))
	for _, q := range pk.pitches {
		k = append(k, byte(q.MIDI()))
	}
	return wornKey{sl.cell, sl.at, string(k)}
}

// goOn has a piece that was settled anew draw other rhythms and melodies than the one
// before, nil for none, and keep away from what that met.
func (p *piece) goOn(before *piece) {
	if before != nil {
		p.try, p.attempt, p.worn, p.memories = before.try+1, before.attempt, before.worn, before.memories
	}
}

// sharesMoreThan reports whether an earlier read has as large a share of the read's
// measures as one has of another's, and too large a one; false where the other is nil.
func (c *Certificate) sharesMoreThan(other *Read) bool {
	if other == nil || !c.crowded() {
		return false
	}
	o := &other.Certificate
	return c.Shared*o.Measures >= o.Shared*c.Measures
}

// sayShared has the read say that an earlier one has too many of its measures.
func (r *Read) sayShared() {
	c := &r.Certificate
	r.Loosened = append(r.Loosened, fmt.Sprintf("%d of its %d measures stand in one earlier read, where %d are let",
		c.Shared, c.Measures, mayShare(c.Measures)))
}

// giveUp is what read reports when no more is drawn: the read that shares least, if there
// is one and nothing worse is the matter than that no other was found.
func (p *piece) giveUp(least *Read, err error) (*Read, error) {
	var refused *RequestError
	var returned *returnedError
	if least != nil && (errors.As(err, &refused) || errors.As(err, &returned)) {
		return least, nil
	}
	return nil, err
}
