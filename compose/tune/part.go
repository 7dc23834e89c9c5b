package tune

import (
	"onward/compose/idiom"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// tick is a tick of package idiom in those of package rhythm.
const tick = rhythm.Quarter / idiom.Quarter

// A sounded note is one of a part with its ties joined.
type sounded struct {
	at, length rhythm.Duration // at counts from the first measure's barline
	pitch      theory.Pitch
}

// played reports the measures of a part, from one on, as they are played at last: with
// second endings and without the first ones that these replace.
func played(p *score.Part, from int) []*score.Measure {
	second := false
	for i := range p.Measures {
		second = second || p.Measures[i].Ending == 2
	}
	var all []*score.Measure
	for i := from; i < len(p.Measures); i++ {
		if m := &p.Measures[i]; m.Ending != 1 || !second {
			all = append(all, m)
		}
	}
	return all
}

// soundedIn reports the notes of measures, each of which begins at its place in at.
func soundedIn(measures []*score.Measure, at []rhythm.Duration) []sounded {
	var all []sounded
	for i, m := range measures {
		for _, n := range m.Notes {
			if n.Rest {
				continue
			}
			s := sounded{at[i] + rhythm.Duration(n.At), n.Duration(m), n.Pitch}
			if k := len(all) - 1; n.TieStop && k >= 0 && all[k].pitch == n.Pitch && all[k].at+all[k].length == s.at {
				all[k].length += s.length
				continue
			}
			all = append(all, s)
		}
	}
	return all
}

// FromPart reports the strain of so many measures of a part that begins with its measure
// from, an index, in the key and meter that it is written in there; nil if the part has not
// so many, or no note in them. The pickup is in it: a short measure before, or short notes
// after a long one there; what leads over to the music after it is not. It takes the second
// of two endings. Cut time is taken as 2/4 with halved values.
func FromPart(p *score.Part, key theory.Key, meter rhythm.Meter, from, measures int) *Tune {
	if from < 0 || from >= len(p.Measures) || measures < 1 {
		return nil
	}
	length := meter.Measure()
	if p.Measures[from].Length < length && p.Measures[from].Implicit {
		from++
	}
	inside := played(p, from)
	if len(inside) < measures {
		return nil
	}
	more := len(inside) > measures
	inside = inside[:measures]
	var at []rhythm.Duration
	for i := range inside {
		at = append(at, rhythm.Duration(i)*length)
	}
	notes := soundedIn(inside, at)
	end := rhythm.Duration(measures) * length
	if more {
		end -= leadLength(notes, end, length)
	}
	if from > 0 {
		before := &p.Measures[from-1]
		notes = append(pickup(before, length), notes...)
	}
	t := &Tune{Kind: "strain", Beats: meter.Beats, Unit: meter.Unit, Measures: measures, Minor: key.Mode == theory.Minor}
	one := tick
	if meter.Unit == 2 {
		t.Unit, one = 4, 2*tick
	}
	tonic := key.Tonic().In(4).Step()
	for _, n := range notes {
		if n.at < end {
			_, alter := key.DegreeOf(n.pitch.Class())
			t.Notes = append(t.Notes, Note{ticks(n.at, one), max(1, ticks(min(n.length, end-n.at), one)), n.pitch.Step() - tonic, alter})
		}
	}
	if len(t.Notes) == 0 || t.Notes[len(t.Notes)-1].Onset < 0 {
		return nil
	}
	t.center()
	return t
}

// ticks reports the nearest number of ticks.
func ticks(d, one rhythm.Duration) int { return floorDiv(int(2*d+one), int(2*one)) }

// leadLength reports how long before end the notes begin that lead over to what follows:
// short ones in the second half of the measure, after a long one.
func leadLength(notes []sounded, end, length rhythm.Duration) rhythm.Duration {
	for i, n := range notes {
		if n.at > end-length/2 && n.at < end {
			if i > 0 && notes[i-1].length >= rhythm.Quarter {
				return end - n.at
			}
			return 0
		}
	}
	return 0
}

// pickup reports the notes of the measure before a strain that lead into it, at negative
// places.
func pickup(m *score.Measure, length rhythm.Duration) []sounded {
	notes := soundedIn([]*score.Measure{m}, []rhythm.Duration{-m.Length})
	if m.Length < length {
		return notes
	}
	lead := leadLength(notes, 0, length)
	for i, n := range notes {
		if n.at >= -lead {
			return notes[i:]
		}
	}
	return nil
}

// RowsOf reports the lines of a part as rows to learn from, of the kind and name given: one
// from each change of key or meter to the next, and of a march also from each repeat sign
// and double bar. It takes the second of two endings.
func RowsOf(p *score.Part, name, kind string) []*Row {
	var rows []*Row
	var key theory.Key
	meter := rhythm.Meter{Beats: 4, Unit: 4}
	var inside []*score.Measure
	end := func() {
		if r := rowOf(inside, name, kind, key, meter); r != nil {
			rows = append(rows, r)
		}
		inside = nil
	}
	for _, m := range played(p, 0) {
		short := len(inside) == 1 && inside[0].Length < meter.Measure() // a pickup goes with what follows
		if m.Key != nil && *m.Key != key || m.Meter != nil && *m.Meter != meter || kind == "march" && m.RepeatStart && !short {
			end()
		}
		if m.Key != nil {
			key = *m.Key
		}
		if m.Meter != nil {
			meter = *m.Meter
		}
		inside = append(inside, m)
		if kind == "march" && (m.RepeatEnd || m.DoubleBar || m.FinalBar) {
			end()
		}
	}
	end()
	return rows
}

// rowOf makes a row of measures in one key and meter; nil if there is no note in them.
func rowOf(measures []*score.Measure, name, kind string, key theory.Key, meter rhythm.Meter) *Row {
	const one = rhythm.Quarter / fileTicks
	r := &Row{ID: name, Kind: kind, Meter: [2]int{meter.Beats, meter.Unit}, Fifths: key.Fifths, Mode: "major"}
	if key.Mode == theory.Minor {
		r.Mode = "minor"
	}
	var at []rhythm.Duration
	now := rhythm.Duration(0)
	for i, m := range measures {
		start := now
		if i == 0 && m.Length < meter.Measure() {
			start -= meter.Measure() - m.Length // so that what follows is whole
		}
		at = append(at, now)
		r.Bars = append(r.Bars, int(start/one))
		now += m.Length
	}
	for _, n := range soundedIn(measures, at) {
		r.Notes = append(r.Notes, [3]int{int(n.at / one), int(n.length / one), n.pitch.MIDI()})
	}
	if len(r.Notes) == 0 {
		return nil
	}
	return r
}
