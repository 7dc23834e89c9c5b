package timeline

import (
	"sort"

	"onward/compose/score"
	"onward/rhythm"
)

// The dynamic marks as velocities: mezzo forte is 80, a step is 16 (common practice
// of notation programs). An unmarked beginning is mezzo forte.
//
//	ppp 16 · pp 33 · p 49 · mp 64 · mf 80 · f 96 · ff 112 · fff 127
//
// fp strikes at 96 and goes on at 49; sfz, sf and fz strike 24 above the level,
// which stays. A hairpin moves evenly to the mark that stands where it ends or up to
// a half note later; where there is none, or one on the wrong side, by one step.
const (
	mezzoForte  = 80
	dynamicStep = 16
	sforzando   = 24
)

func markLevel(mark string) (level int, ok bool) {
	switch mark {
	case "ppp":
		return 16, true
	case "pp":
		return 33, true
	case "p", "fp":
		return 49, true
	case "mp":
		return 64, true
	case "mf":
		return mezzoForte, true
	case "f":
		return 96, true
	case "ff":
		return 112, true
	case "fff":
		return 127, true
	}
	return 0, false
}

// Level reports the dynamic level at an offset of the take as a velocity, 1 to 127,
// with hairpins under way. In the count-in it is that of the first measure's start,
// after the end that of the end. Accents and struck marks (fp, sfz) are not in it.
func (l *Layout) Level(at rhythm.Offset) uint8 {
	return velocity(l.levels.at(max(at, l.Start)))
}

// Strike reports how loud a note that begins at the offset is before its own
// accents: the level, or what an fp or sfz at this very place makes of it.
func (l *Layout) Strike(at rhythm.Offset) uint8 {
	v := l.levels.at(max(at, l.Start))
	for _, s := range l.levels.strikes {
		if s.at != at {
			continue
		}
		if s.above {
			return velocity(v + s.level)
		}
		return velocity(s.level)
	}
	return velocity(v)
}

func velocity(v int) uint8 { return uint8(min(127, max(1, v))) }

// levels are the dynamics of a take.
type levels struct {
	ramps   []ramp // sorted by at; of two at one place the later holds
	strikes []strike
}

// A ramp moves evenly from one level to another, and stays there. A mark is a ramp
// of no length.
type ramp struct {
	at, end  rhythm.Offset
	from, to int
}

// A strike is a level for the notes that begin at one place alone, or how far above
// the level they are.
type strike struct {
	at    rhythm.Offset
	level int
	above bool
}

func (v levels) at(at rhythm.Offset) int {
	i := sort.Search(len(v.ramps), func(i int) bool { return v.ramps[i].at > at })
	if i == 0 {
		return mezzoForte
	}
	r := v.ramps[i-1]
	if at >= r.end {
		return r.to
	}
	return r.from + (r.to-r.from)*int(at-r.at)/int(r.end-r.at)
}

// A dynamicPoint is one mark on the way through the take. Points at one place come
// in the order of their kinds.
type dynamicPoint struct {
	at   rhythm.Offset
	kind pointKind
	mark string        // of a levelMark
	sign int           // of a hairpin: 1 louder, -1 softer
	as   rhythm.Offset // of a goBack: the place whose level holds again
}

type pointKind int

const (
	hairpinStop pointKind = iota
	goBack                // a repeat goes back to an unmarked place
	levelMark
	hairpinStart
)

// readLevels works the dynamics out along the measures as played.
func readLevels(l *Layout) levels {
	var v levels
	points := dynamicPoints(l)
	level := mezzoForte
	for i, p := range points {
		switch p.kind {
		case goBack, levelMark:
			if s, ok := struck(p); ok {
				v.strikes = append(v.strikes, s)
			}
			if to, ok := v.levelOf(p); ok {
				level = to
				v.ramps = append(v.ramps, ramp{p.at, p.at, level, level})
			}
		case hairpinStart:
			r := v.hairpin(points[i:], level, l.End)
			v.ramps = append(v.ramps, r)
			level = r.to
		}
	}
	return v
}

// levelOf reports the level that the point sets, if it sets one.
func (v levels) levelOf(p dynamicPoint) (int, bool) {
	switch p.kind {
	case goBack:
		return v.at(p.as), true
	case levelMark:
		return markLevel(p.mark)
	}
	return 0, false
}

func struck(p dynamicPoint) (strike, bool) {
	switch p.mark {
	case "fp":
		return strike{p.at, 96, false}, true
	case "sfz", "sf", "fz":
		return strike{p.at, sforzando, true}, true
	}
	return strike{}, false
}

// hairpin reports the ramp of the hairpin at points[0] that begins at the level: to
// its stop, or to the level mark or hairpin that comes first, or to the end.
func (v levels) hairpin(points []dynamicPoint, level int, end rhythm.Offset) ramp {
	start := points[0]
	r := ramp{start.at, end, level, level + start.sign*dynamicStep}
	stopped := false
	for _, p := range points[1:] {
		if stopped && p.at > r.end.Add(rhythm.Half) {
			break
		}
		if to, ok := v.levelOf(p); ok {
			if !stopped {
				r.end = p.at
			}
			if (to-level)*start.sign > 0 {
				r.to = to
			}
			break
		}
		if !stopped && (p.kind == hairpinStop || p.kind == hairpinStart) {
			r.end, stopped = p.at, true
		}
		if p.kind == hairpinStart {
			break
		}
	}
	if r.end <= r.at { // no length: no hairpin
		r.end, r.to = r.at, level
	}
	r.to = int(velocity(r.to))
	return r
}

// dynamicPoints gathers the marks of the measures as played, in order.
func dynamicPoints(l *Layout) []dynamicPoint {
	var points []dynamicPoint
	first := map[int]rhythm.Offset{} // where each measure was first played
	for i, m := range l.Measures {
		written := &l.Part.Measures[m.Index]
		if _, again := first[m.Index]; !again {
			first[m.Index] = m.At
		}
		if i > 0 && m.Index <= l.Measures[i-1].Index {
			points = append(points, dynamicPoint{at: m.At, kind: goBack, as: first[m.Index]})
		}
		points = append(points, measurePoints(m, written)...)
	}
	sort.SliceStable(points, func(i, j int) bool {
		a, b := points[i], points[j]
		return a.at < b.at || a.at == b.at && a.kind < b.kind
	})
	return points
}

func measurePoints(m PlayedMeasure, written *score.Measure) []dynamicPoint {
	var points []dynamicPoint
	for _, d := range written.Dynamics {
		points = append(points, dynamicPoint{at: m.Offset(d.At), kind: levelMark, mark: d.Mark})
	}
	for _, h := range written.Hairpins {
		p := dynamicPoint{at: m.Offset(h.At), kind: hairpinStart, sign: 1}
		switch h.Kind {
		case score.Diminuendo:
			p.sign = -1
		case score.HairpinStop:
			p.kind = hairpinStop
		}
		points = append(points, p)
	}
	return points
}
