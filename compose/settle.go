package compose

import (
	"math"
	"math/rand/v2"
	"slices"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/lattice"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A piece is a read in the making. Everything is in written pitch.
type piece struct {
	things     []*ladder.Thing    // what its rung adds that it is to bring
	places     []string           // the style's meters in which those can show
	vocabulary *figure.Vocabulary // the request's, or what the rung carries of it; nil for none
	carried    bool               // the vocabulary's shapes stand on the rung's cells
	drilled    *drilled           // the vocabulary, nil for none
	aim        *aiming            // the way to the request's aims, nil for none
	req        Request
	world      *World
	rung       *ladder.Rung
	bounds     *ladder.Bounds
	meter      rhythm.Meter
	sheet      *styles.Meter // the style's words on the meter
	tempo      int           // felt beats a minute; set once the melody stands
	paces      [2]int        // the slowest and fastest that style and rung have
	tilt       float64       // how gladly bars bear more notes than that, 0 for as they are
	heavier    float64       // how much more the notes weigh than the rhythm alone tells
	try        int           // how often a rhythm was drawn before
	draws      int           // how often a melody was drawn
	home       theory.Key    // concert
	key        theory.Key    // written
	low        theory.Pitch  // the window's ends; between floor and ceiling in MIDI numbers
	high       theory.Pitch
	floor      int
	ceiling    int
	// costShare is how much of a piece's weight one unit of instrument cost takes: more
	// at the lower rungs, which are to fall under the fingers.
	costShare float64

	attempt  int                 // how often a page was finished before
	returns  int                 // how often of those, since a repeat sign's seam was heard before
	crowded  int                 // how often, since an earlier read had too many of its measures
	worn     map[wornKey]float64 // how gladly what those are made of is drawn still
	run      int                 // L, the notes in a row that may not return
	memories map[int]*memory     // by L
	cache    map[instanceKey]choice
	costs    []float64            // of intervals, by the numbers of both pitches; see step
	near     map[lineKey]*chances // those in use
	odds     [7][3][2]alterOdds   // of alterations, by degree, alteration and mode
	ids      numbering            // of the nodes of the lattice that is built
	edges    []lattice.Edge       // of its layer
	learned  learned

	sections []*section
	legal    float64 // log10 of the melodies there were to draw from
	loosened []string
}

// settle draws what the request leaves open, within the rung.
func settle(w *World, req Request) (*piece, error) { return settleAnew(w, req, 0) }

// settleAnew is settle where no read was found so many times in what was drawn before.
func settleAnew(w *World, req Request, times int) (*piece, error) {
	rung, err := w.Ladder.Rung(req.Rung)
	if err != nil {
		return nil, refuse("%v", err)
	}
	p := &piece{heavier: 1, req: req, world: w, rung: rung, vocabulary: req.Vocabulary, drilled: newDrilled(req.Vocabulary, w.Catalogue), cache: map[instanceKey]choice{}, near: map[lineKey]*chances{}, worn: map[wornKey]float64{}, memories: map[int]*memory{}}
	rng := stream(req.Seed, "settle"+primes(times))
	if err := p.chooseThings(rng); err != nil {
		return nil, err
	}
	if err := p.chooseMeter(rng); err != nil {
		return nil, err
	}
	p.carryOver()
	if err := p.learn(); err != nil {
		return nil, err
	}
	if err := p.chooseKey(rng); err != nil {
		return nil, err
	}
	if err := p.choosePaces(); err != nil {
		return nil, err
	}
	p.chooseRange(rng)
	p.costs = make([]float64, p.sungs()*p.sungs())
	for i := range p.costs {
		p.costs[i] = -1
	}
	return p, nil
}

func (p *piece) styleMeter(name string) *styles.Meter {
	for i := range p.req.Style.Meters {
		if p.req.Style.Meters[i].Name == name {
			return &p.req.Style.Meters[i]
		}
	}
	return nil
}

// drilledMeter is how much oftener a meter is taken that the exercises stand in.
const drilledMeter = 8

// leastMeter is the weight of a meter that nothing drilled fits, or none of the things
// that the read is to bring, and of a key that is not among them.
const leastMeter = 0.001

// chooseMeter draws a meter that style and rung both have: one in which the rung's things
// can show, and drilled ones more often.
func (p *piece) chooseMeter(rng *rand.Rand) error {
	var open []rhythm.Meter
	for _, m := range p.bounds.Meters {
		if p.styleMeter(m.String()) != nil && (p.req.Meter == nil || *p.req.Meter == m) {
			open = append(open, m)
		}
	}
	if len(open) == 0 {
		return p.refuseMeter()
	}
	elsewhere := leastMeter
	if p.drilled != nil { // what was drilled comes before what the rung adds
		elsewhere = 1.0 / drilledMeter
	}
	i := draw(rng, len(open), func(i int) float64 {
		w := p.styleMeter(open[i].String()).Weight
		if !slices.Contains(p.places, open[i].String()) {
			w *= elsewhere
		}
		if p.drilled != nil {
			share := p.drilled.meters[open[i].String()]
			if p.drilled.drilledIn[open[i].String()] {
				w *= drilledMeter
			}
			w *= leastMeter + math.Pow(share, 8)
		}
		return w
	})
	p.meter = open[i]
	p.sheet = p.styleMeter(p.meter.String())
	return nil
}

func (p *piece) refuseMeter() error {
	asked := "any meter"
	if p.req.Meter != nil {
		asked = p.req.Meter.String()
		if p.styleMeter(asked) == nil {
			_, err := p.req.Style.Meter(asked)
			return refuse("%v", err)
		}
	}
	for n := p.req.Rung + 1; n <= len(p.world.Ladder.Rungs); n++ {
		r := p.world.Ladder.Rungs[n-1]
		for _, t := range r.Adds {
			for _, m := range t.Meters {
				if p.styleMeter(m) != nil && (p.req.Meter == nil || m == asked) {
					return refuse("rung %d does not have %s in the style %s yet; rung %d adds it", p.req.Rung, asked, p.req.Style.Name, n)
				}
			}
		}
	}
	return refuse("no rung has %s in the style %s", asked, p.req.Style.Name)
}

// chooseKey draws a concert key of the rung that is readable on the instrument.
func (p *piece) chooseKey(rng *rand.Rand) error {
	keys := p.bounds.Keys
	if p.req.Key != nil {
		if !slices.Contains(keys, *p.req.Key) {
			return p.refuseKey()
		}
		keys = []theory.Key{*p.req.Key}
	}
	bring := slices.ContainsFunc(keys, p.freshKey)
	i := draw(rng, len(keys), func(i int) float64 {
		written := p.written(keys[i])
		w := 1.0
		if written.Fifths < -6 || written.Fifths > 6 {
			w = 0.01
		}
		if p.wantsTrio() && !slices.Contains(p.bounds.Keys, keys[i].Subdominant()) {
			w /= 20
		}
		if p.req.Key == nil && keys[i].Mode == theory.Minor {
			w *= p.req.Style.Minor
		}
		if bring && !p.freshKey(keys[i]) {
			w *= leastMeter
		}
		if p.drilled != nil && !p.drilled.keys[written] {
			w /= 3
		}
		return w
	})
	p.home = keys[i]
	p.key = p.written(p.home)
	return nil
}

// wantsTrio reports whether the form goes to the subdominant.
func (p *piece) wantsTrio() bool {
	f, err := p.req.Style.Form(p.req.Form)
	return err == nil && slices.ContainsFunc(f.Sections, func(s styles.Section) bool { return s.Key == "subdominant" })
}

// freshKey reports whether one of the things to bring has the concert key.
func (p *piece) freshKey(k theory.Key) bool {
	return slices.ContainsFunc(p.things, func(t *ladder.Thing) bool { return slices.Contains(t.Keys, k.String()) })
}

func (p *piece) refuseKey() error {
	for n := p.req.Rung + 1; n <= len(p.world.Ladder.Rungs); n++ {
		for _, t := range p.world.Ladder.Rungs[n-1].Adds {
			for _, s := range t.Keys {
				if k, err := theory.ParseKey(s); err == nil && k == *p.req.Key {
					return refuse("rung %d does not have concert %s yet; rung %d adds it", p.req.Rung, p.req.Key, n)
				}
			}
		}
	}
	return refuse("no rung has concert %s; `onward rungs` lists the keys", p.req.Key)
}

// written reports a concert key as the instrument reads it.
// Six sharps or flats are written as the page's other keys are.
func (p *piece) written(k theory.Key) theory.Key {
	return beside(writtenKey(k, p.req.Instrument), p.key)
}

// beside reports a written key of six sharps or flats as the page's home key has them.
func beside(k, home theory.Key) theory.Key {
	if k.Fifths == 6 && home.Fifths < 0 || k.Fifths == -6 && home.Fifths > 0 {
		k.Fifths = -k.Fifths
	}
	return k
}

// writtenKey reports a concert key as an instrument reads it: with seven sharps or flats,
// as the simpler key that sounds the same.
func writtenKey(concert theory.Key, in theory.Instrument) theory.Key {
	k := concert.Transpose(in.Sounds.Neg())
	switch k.Fifths {
	case 7:
		k.Fifths = -5
	case -7:
		k.Fifths = 5
	}
	return k
}

// chooseRange takes a window of the rung's span out of the instrument's bracket, the
// tonic near its foot or a fourth above it.
func (p *piece) chooseRange(rng *rand.Rand) {
	r := p.req.Instrument.Ranges[p.bounds.Bracket]
	low, high := r.Low.Step(), r.High.Step()
	if free := high - low + 1 - p.rung.Span; free > 0 {
		tonic := int(p.key.Tonic().Letter)
		all := p.req.Instrument.Ranges[theory.Intermediate]
		middle, width := float64(all.Low.Step()+all.High.Step())/2, float64(high-low)/3
		shift := draw(rng, free+1, func(i int) float64 {
			off := (float64(low+i) + float64(p.rung.Span-1)/2 - middle) / width
			near := math.Exp(-off * off / 2)
			switch (low + i - tonic + 70) % 7 {
			case 0:
				return 4 * near
			case 4, 3:
				return 3 * near
			case 6, 5:
				return 2 * near
			}
			return near
		})
		low += shift
		high = low + p.rung.Span - 1
	}
	p.floor, p.ceiling = r.Low.MIDI(), r.High.MIDI()
	for p.key.At(low).MIDI() < p.floor { // a flat of the key below the last note
		low++
	}
	for p.key.At(high).MIDI() > p.ceiling {
		high--
	}
	p.low, p.high = p.key.At(low), p.key.At(high)
	p.costShare = 0.006 * float64(13-p.req.Rung)
}
