package compose_test

import (
	"fmt"

	"onward/compose/score"
)

// quarter is a quarter in ticks, by the score's own measure of time.
const quarter = 10_080

// A grid is how a meter is shown, in ticks.
type grid struct {
	beat   int64
	groups []int64 // what one beam may hold at most
	middle int64   // where nothing but long notes may pass, 0 for nowhere
}

// grids holds the meters' beats and beam groups. Source: engraving handbooks, from
// memory: eighths in 4/4 by half measures, in 3/4 by the measure, in 6/8 and 9/8 by the
// dotted quarter, in 3/8 by the measure, in 5/4 as three and two.
var grids = map[string]grid{
	"2/4": {quarter, []int64{2 * quarter}, 0},
	"3/4": {quarter, []int64{3 * quarter}, 0},
	"4/4": {quarter, []int64{2 * quarter, 2 * quarter}, 2 * quarter},
	"cut": {2 * quarter, []int64{2 * quarter, 2 * quarter}, 2 * quarter},
	"6/8": {quarter * 3 / 2, []int64{quarter * 3 / 2, quarter * 3 / 2}, 3 * quarter / 2},
	"9/8": {quarter * 3 / 2, []int64{quarter * 3 / 2, quarter * 3 / 2, quarter * 3 / 2}, 0},
	"3/8": {quarter * 3 / 2, []int64{quarter * 3 / 2}, 0},
	"5/4": {quarter, []int64{3 * quarter, 2 * quarter}, 3 * quarter},
}

// compound reports whether beats are dotted.
func (g grid) compound() bool { return g.beat%quarter != 0 }

// group numbers the beam group that an offset lies in.
func (g grid) group(at int64) int {
	for i, length := range g.groups {
		if at -= length; at < 0 {
			return i
		}
	}
	return len(g.groups)
}

// rhythmRules are what a copyist asks of beams, values, ties and rests.
var rhythmRules = []rule{
	{"a beam stays in its group, never over the middle of the measure", "engraving handbooks, from memory", 2_500, beamsInGroups, 0},
	{"notes with flags in one beat are beamed together", "engraving handbooks, from memory", 2_500, beamsJoin, 0},
	{"beams of sixteenths show the beats", "engraving handbooks, from memory", 100, beamsShowBeats, 0},
	{"note values show the beats", "engraving handbooks, from memory", 5_000, valuesShowBeats, 0},
	{"no tie where one value could stand", "engraving handbooks, from memory", 40, needlessTies, 0},
	{"rests lie where they belong", "engraving handbooks, from memory", 400, restsBelong, 0},
	{"rests are not split", "engraving handbooks, from memory", 400, restsJoined, 0},
	{"silent measures have a measure's rest", "MusicXML 4.0: rest, attribute measure", 4_000, measureRests, 0},
}

// beamed calls look with the first and last index of each beam.
func (p *page) beamed(look func(first, last int)) {
	first := -1
	for i, n := range p.ink {
		if len(n.Beams) == 0 {
			continue
		}
		switch n.Beams[0] {
		case score.BeamBegin:
			first = i
		case score.BeamEnd:
			look(first, i)
		}
	}
}

func beamsInGroups(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	p.beamed(func(first, last int) {
		l.examined++
		a, b := &p.ink[first], &p.ink[last]
		if g.group(a.at) != g.group(b.at) {
			l.blame(p, a.measure, "a beam from tick %d to %d in %s", a.at, b.at, p.r.Meter)
		}
		eighths := true
		for _, n := range p.ink[first : last+1] {
			eighths = eighths && n.Value.Base == 8 && n.Value.Dots == 0 && n.Value.Tuplet.Actual == 0
		}
		if !eighths && !g.compound() && g.beat == quarter && a.at/g.beat != b.at/g.beat {
			l.blame(p, a.measure, "a beam with other values than eighths over a beat, from tick %d to %d in %s", a.at, b.at, p.r.Meter)
		}
	})
}

func beamsJoin(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for i := 1; i < len(p.ink); i++ {
		a, b := &p.ink[i-1], &p.ink[i]
		if a.measure != b.measure || a.Rest || b.Rest || a.Value.Flags() == 0 || b.Value.Flags() == 0 {
			continue
		}
		beat := min(g.beat, 3*quarter/2)
		if g.beat == 2*quarter {
			beat = quarter
		}
		if a.at/beat != b.at/beat {
			continue
		}
		l.examined++
		if len(a.Beams) == 0 || len(b.Beams) == 0 || a.Beams[0] == score.BeamEnd || b.Beams[0] == score.BeamBegin {
			l.blame(p, a.measure, "the notes at ticks %d and %d in %s have no beam", a.at, b.at, p.r.Meter)
		}
	}
}

// A second beam does not pass a beat; in cut time and over four quarters not a quarter.
func beamsShowBeats(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	beat := g.beat
	if beat == 2*quarter {
		beat = quarter
	}
	for i := 1; i < len(p.ink); i++ {
		a, b := &p.ink[i-1], &p.ink[i]
		if a.measure != b.measure || len(a.Beams) < 2 || len(b.Beams) < 2 {
			continue
		}
		l.examined++
		goesOn := a.Beams[1] == score.BeamBegin || a.Beams[1] == score.BeamContinue
		if goesOn && a.at/beat != b.at/beat {
			l.blame(p, a.measure, "a second beam over the beat at tick %d in %s", b.at, p.r.Meter)
		}
	}
}

// valueFault says how a note from at to end hides the beats, "" where it shows them.
// In simple meters what crosses a beat begins on one, or is the long note of a short-
// long-short within two beats (eighth-quarter-eighth, quarter-half-quarter and, with a
// dot, eighth-dotted quarter), or one of a row of such long notes, as old marches print
// them; row says that it may. In compound meters only whole beats cross a beat.
func valueFault(g grid, at, end, measure int64, row bool) string {
	if at == 0 && end == measure || at/g.beat == (end-1)/g.beat {
		return ""
	}
	onBeat := at%g.beat == 0
	if g.compound() {
		if onBeat && end%g.beat == 0 {
			return ""
		}
		return "a note of part of a beat crosses a compound beat"
	}
	length := end - at
	switch half := g.beat / 2; {
	case onBeat && length%half == 0, onBeat && length*8 == 7*2*g.beat: // whole and dotted values
	case at%g.beat == half && length == g.beat: // off the beat
	case row && at%half == half/2 && length == half: // the same of sixteenths and eighths, in cut of eighths and quarters
	case at%(2*g.beat) == half && length == 3*half && end%(2*g.beat) == 0: // short-dotted long
	default:
		return fmt.Sprintf("a note of %d ticks at %d hides the beat", length, at)
	}
	if g.middle > 0 && at < g.middle && end > g.middle && at%quarter != 0 && (!row || length > quarter) {
		return "a note off the quarter passes the middle of the measure"
	}
	return ""
}

func valuesShowBeats(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for _, n := range p.ink {
		if n.Rest || n.Value.Tuplet.Actual != 0 {
			continue
		}
		l.examined++
		at := n.at
		if fault := valueFault(g, at, at+n.end-n.start, int64(p.r.Meter.Measure()), true); fault != "" {
			l.blame(p, n.measure, "%s (%s)", fault, p.r.Meter)
		}
	}
}

// single reports whether a length is one plain or dotted value.
func single(length int64) bool {
	for base := int64(4 * quarter); base >= quarter/8; base /= 2 {
		if length == base || 2*length == 3*base {
			return true
		}
	}
	return false
}

func needlessTies(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for i := 1; i < len(p.ink); i++ {
		a, b := &p.ink[i-1], &p.ink[i]
		if !a.TieStart || a.measure != b.measure {
			continue
		}
		l.examined++
		at := a.at
		if single(b.end-a.start) && valueFault(g, at, at+b.end-a.start, int64(p.r.Meter.Measure()), false) == "" {
			l.blame(p, a.measure, "%s and %s tied in %s where one value could stand", a.Value, b.Value, p.r.Meter)
		}
	}
}

// restFault says why one rest may not stand from at on, "" where it may. In simple
// meters each stands on a multiple of its own length and has no dot, and none is longer
// than a beat but where two beats make half of the measure; in compound meters a dotted
// rest fills whole beats, and a quarter rest begins the beat.
func restFault(g grid, at, length, measure int64) string {
	switch {
	case at == 0 && length == measure:
		return ""
	case g.compound() && length >= g.beat:
		if at%g.beat == 0 && length == g.beat {
			return ""
		}
	case g.compound() && length == quarter:
		if at%g.beat == 0 {
			return ""
		}
	case length > g.beat:
		if length == 2*g.beat && g.middle > 0 && (at%length == 0 || at == g.middle) {
			return ""
		}
	case at%length == 0 && g.beat%length == 0, g.compound() && at%length == 0 && g.beat/3%length == 0:
		return ""
	}
	return fmt.Sprintf("a rest of %d ticks at %d", length, at)
}

func restsBelong(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for _, n := range p.ink {
		if !n.Rest || n.Value.Tuplet.Actual != 0 {
			continue
		}
		l.examined++
		if fault := restFault(g, n.at, n.end-n.start, int64(p.r.Meter.Measure())); fault != "" {
			l.blame(p, n.measure, "%s in %s", fault, p.r.Meter)
		}
	}
}

func restsJoined(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for i, n := range p.ink {
		if !n.Rest {
			continue
		}
		l.examined++
		if i == 0 || !p.ink[i-1].Rest || p.ink[i-1].measure != n.measure {
			continue
		}
		a := p.ink[i-1]
		if p.r.Meter.Count() == 5 { // three and two, either way
			continue
		}
		if length := n.end - a.start; single(length) && restFault(g, a.at, length, int64(p.r.Meter.Measure())) == "" {
			l.blame(p, n.measure, "rests of %s and %s where one could stand in %s", a.Value, n.Value, p.r.Meter)
		}
	}
}

func measureRests(p *page, l *look) {
	for i := range p.part.Measures {
		l.examined++
		notes := p.part.Measures[i].Notes
		silent := true
		for _, n := range notes {
			silent = silent && n.Rest
		}
		if silent && (len(notes) != 1 || !notes[0].WholeMeasure) {
			l.blame(p, i, "a silent measure without a measure's rest")
		}
	}
}
