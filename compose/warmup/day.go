package warmup

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"onward/compose/figure"
	"onward/theory"
)

// The families in groups; a day takes the next of each group.
var (
	scales    = []Family{Octave, Extended, Growing}
	arpeggios = []Family{ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing}
	ways      = []Family{Thirds, Intervals, Neighbours}
	endings   = []Family{Tonguing, Cycle}
	figures   = []Family{Figure, Thirds, Tonguing} // the others only where no figure can be had
)

// levels are the rungs from which families are in use; 1 for those that are not listed.
var levels = map[Family]int{ArpeggioExtended: 2, ArpeggioGrowing: 3, Thirds: 2, Intervals: 3, Neighbours: 7, Cycle: 7}

// A turn is a group and how many times it was taken before.
type turn struct {
	group []Family
	at    int
}

// turns lists what a day is made of: from five exercises on one of each group, of fewer
// the groups change from day to day.
func turns(exercises, day int) []turn {
	scale, chord, way, ending := turn{scales, day}, turn{arpeggios, day + 1}, turn{ways, day}, turn{endings, day}
	own := turn{figures, 0}
	switch exercises {
	case 3:
		first := turn{scales, day / 2}
		if day%2 == 1 {
			first.group = arpeggios
		}
		last := turn{ways, day/4*2 + day%2}
		if day/2%2 == 1 {
			last.group = endings
		}
		return []turn{first, own, last}
	case 4:
		last := turn{ways, day / 2}
		if day%2 == 1 {
			last.group = endings
		}
		return []turn{scale, chord, own, last}
	case 5:
		return []turn{scale, chord, way, own, ending}
	}
	return []turn{scale, chord, own, way, own, ending}
}

// A maker of a day keeps what the exercises so far have used.
type work struct {
	Day
	catalogue *figure.Catalogue
	ground    ground
	avoid     map[uint64]bool
	rhythms   map[string]bool // used today
	tongues   map[string]bool
	shapes    map[string]bool // of figures
	left      time.Duration   // to play, not yet given to an exercise
}

// Make makes the warm-up. It refuses with a *RequestError what the player can ask
// otherwise: other minutes, a key that the range has no room for.
func Make(cat *figure.Catalogue, req Request) (*Day, error) {
	w, err := begin(cat, req)
	if err != nil {
		return nil, err
	}
	list := turns(min(max(req.Minutes/2, 3), 6), req.Turn)
	made := make([]*Exercise, len(list))
	w.left = (time.Duration(req.Minutes)*time.Minute - margin) / 2
	for n, i := range order(len(list)) {
		if made[i] = w.take(list[i], len(list)-n); made[i] == nil {
			continue // the range or the minutes have no room for it
		}
		w.left -= made[i].Through()
	}
	for _, e := range made {
		if e != nil {
			w.Exercises = append(w.Exercises, *e)
		}
	}
	if len(w.Exercises) == 0 {
		return nil, fmt.Errorf("warm-up of seed %d: no exercise fits", req.Seed)
	}
	w.fill()
	return &w.Day, nil
}

// margin is what a warm-up leaves of its minutes for the count ahead.
const margin = 6 * time.Second

// order is in what order exercises are made: the last first, for it may be the longest.
func order(n int) []int {
	o := []int{n - 1}
	for i := range n - 1 {
		o = append(o, i)
	}
	return o
}

// begin checks the request and settles key and range.
func begin(cat *figure.Catalogue, req Request) (*work, error) {
	switch {
	case req.Minutes < MinMinutes || req.Minutes > MaxMinutes:
		return nil, &RequestError{fmt.Sprintf("a warm-up of %d minutes", req.Minutes), fmt.Sprintf("ask for %d to %d", MinMinutes, MaxMinutes)}
	case req.Rung < 1 || req.Rung > len(paces):
		return nil, &RequestError{fmt.Sprintf("rung %d", req.Rung), fmt.Sprintf("the ladder has rungs 1 to %d", len(paces))}
	case req.Bracket < theory.SixNotes || req.Bracket > theory.Beyond || req.Turn < 0 || len(req.Keys) == 0 && req.Key == nil:
		return nil, fmt.Errorf("warm-up: bracket %d, turn %d, %d keys: want a bracket, a turn from 0 and a key", req.Bracket, req.Turn, len(req.Keys))
	}
	w := &work{Day: Day{Request: req, Range: req.Instrument.Ranges[req.Bracket]}, catalogue: cat,
		avoid: map[uint64]bool{}, rhythms: map[string]bool{}, tongues: map[string]bool{}, shapes: map[string]bool{}}
	for _, h := range req.Avoid {
		w.avoid[h] = true
	}
	return w, w.settleKey()
}

// settleKey takes the key asked for, or the next in turn of those in which the range holds
// an octave, on the tonic or around it.
func (w *work) settleKey() error {
	choice := w.Keys
	if w.Key != nil {
		choice = []theory.Key{*w.Key}
	}
	fitting := choice[:0:0]
	for _, poor := range []bool{false, true} {
		for _, k := range choice {
			if g, ok := settle(w.written(k), w.Range); ok && (poor || g.high >= 8 || g.around()) {
				fitting = append(fitting, k)
			}
		}
		if len(fitting) > 0 {
			w.Concert = fitting[w.Turn%len(fitting)]
			w.Written = w.written(w.Concert)
			w.ground, _ = settle(w.Written, w.Range)
			return nil
		}
	}
	return &RequestError{fmt.Sprintf("concert %v on rung %d: %v to %v, the notes of the %s there, have no room for a scale on %v",
		choice[0], w.Rung, w.Range.Low, w.Range.High, w.Instrument.Name, w.written(choice[0]).Tonic()),
		"choose another key, or a higher rung"}
}

// written reports the written key of a concert key, with six accidentals at most.
func (w *work) written(concert theory.Key) theory.Key {
	return fewest(concert.Transpose(w.Instrument.Sounds.Neg()))
}

// take makes an exercise of the turn's group: of the family whose turn it is, else of the
// next one that there is room for. share is among how many exercises what is left of the
// time is to be shared.
func (w *work) take(t turn, share int) *Exercise {
	var open []Family
	for _, f := range t.group {
		if w.Rung >= max(levels[f], 1) {
			open = append(open, f)
		}
	}
	for i := range open {
		if e := w.exercise(open[(t.at+i)%len(open)], share); e != nil {
			return e
		}
	}
	return nil
}

// longest is how long one time through a family may take. The way through twelve keys may
// have a good part of the whole; others somewhat more than their share.
func (w *work) longest(f Family, share int) time.Duration {
	if f == Cycle {
		return min(w.left*11/20, w.left)
	}
	if share == 1 {
		return w.left
	}
	return min(w.left, w.left*5/time.Duration(4*share))
}

// What counts against a candidate; one that has nothing against it is taken at once.
const (
	lineReturns = 100 // for each line that is not to come again
	manyStops   = 10  // where more than a third of the measures are stops, or a line is long
	longSystem  = 12  // measures: more are cramped on a system
	rhythmAgain = 3   // a rhythm that the day has already
	tongueAgain = 2   // likewise an articulation
	triesFamily = 600 // candidates looked at, at most
	triesFresh  = 80  // after which a repeated rhythm or articulation is good enough
	fewPerStop  = 3
)

// exercise draws an exercise of the family: of all candidates, shuffled, the first that has
// nothing against it, else the one with the least. It is nil where none fits.
func (w *work) exercise(f Family, share int) *Exercise {
	rng := rand.New(rand.NewPCG(w.Seed, stream(fmt.Sprint(f, len(w.rhythms)))))
	all := w.candidates(f, rng)
	longest := w.longest(f, share)
	var best *Exercise
	least := 0
	if f != Figure {
		all = slices.Repeat(all, 3) // each is drawn anew
	}
	for i := range all[:min(len(all), triesFamily)] {
		if i > triesFresh && least < manyStops && best != nil {
			break
		}
		c := &all[i]
		e := w.build(f, c, longest, rng)
		if e == nil {
			continue
		}
		against := lineReturns * w.returned(e)
		if f != Cycle && (fewPerStop*e.stops > e.Count() || e.longest() > longSystem) {
			against += manyStops
		}
		if w.rhythms[c.words] {
			against += rhythmAgain
		}
		if w.tongues[c.tongue.words] {
			against += tongueAgain
		}
		if best == nil || against < least {
			best, least = e, against
		}
		if against == 0 {
			break
		}
	}
	if best == nil {
		return nil
	}
	return w.keep(best)
}

// longest reports how many measures the longest line has.
func (e *Exercise) longest() int {
	n := 0
	for _, l := range e.Lines {
		n = max(n, len(l.Measures))
	}
	return n
}

// returned counts the lines of an exercise that are not to come.
func (w *work) returned(e *Exercise) int {
	n := 0
	for i := range e.Lines {
		if w.avoid[e.Lines[i].Hash()] {
			n++
		}
	}
	return n
}

func (w *work) keep(e *Exercise) *Exercise {
	w.rhythms[e.Rhythm], w.tongues[e.Tongue] = true, true
	if e.Figure != nil {
		w.shapes[e.Figure.Shape] = true
	}
	w.Returned += w.returned(e)
	for i := range e.Lines {
		w.avoid[e.Lines[i].Hash()] = true
	}
	return e
}

func stream(name string) uint64 {
	h := newHash()
	fmt.Fprint(h, name)
	return h.Sum64()
}

// shortest is a time through that is too short to stand by itself.
const shortest = 12 * time.Second

// mostTimes is how many times one exercise is played at most.
const mostTimes = 10

// fill has the exercises played more often, the one that has had the least first, as long
// as the minutes hold it.
func (w *work) fill() {
	limit := time.Duration(w.Minutes) * time.Minute
	for {
		byNeed := make([]*Exercise, len(w.Exercises))
		for i := range w.Exercises {
			byNeed[i] = &w.Exercises[i]
		}
		slices.SortStableFunc(byNeed, func(a, b *Exercise) int {
			return int(time.Duration(a.Times)*a.Through() - time.Duration(b.Times)*b.Through())
		})
		more := false
		for _, e := range byNeed {
			e.Times++
			if more = e.Times <= mostTimes && w.Total() <= limit; more {
				break
			}
			e.Times--
		}
		if !more {
			return
		}
	}
}
