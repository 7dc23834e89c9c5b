package warmup

import (
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A layout is what patterns are laid on: measures of one meter, all of one cell.
type layout struct {
	meter  rhythm.Meter
	events []rhythm.Event
	breath rhythm.Duration // how far the wind reaches
}

// slots reports how many notes a measure has.
func (l *layout) slots() int {
	var span rhythm.Duration
	notes := 0
	for _, e := range l.events {
		span += e.Value.Duration()
		if !e.Rest {
			notes++
		}
	}
	return notes * int(l.meter.Measure()/span)
}

// fits says whether the cell fills measures.
func (l *layout) fits() bool {
	var span rhythm.Duration
	for _, e := range l.events {
		span += e.Value.Duration()
	}
	return l.meter.Measure()%span == 0
}

// A bar is one measure being laid. on says that the music runs on into it without a breath.
type bar struct {
	line  int
	on    bool
	notes []score.Note
}

// most measures of a line before its breaths are put in: more do not go on a system.
const longestLine = 8

// lay puts the patterns on measures, then the breaths in. It is false where a line comes
// out too long, does not end on a beat, or leaves no place to breathe.
func (l *layout) lay(patterns []pattern) (lines [][]score.Measure, stops int, ok bool) {
	var bars []bar
	on := false
	for i, p := range patterns {
		begin := len(bars)
		for _, s := range p.segments {
			more, ok := l.segment(s)
			if !ok {
				return nil, 0, false
			}
			for k := range more {
				more[k].line = i
				more[k].on = k > 0 || on
			}
			bars = append(bars, more...)
			on = s.open
		}
		if len(bars)-begin > longestLine {
			return nil, 0, false
		}
	}
	written := len(bars)
	if bars, ok = l.breathe(bars); !ok {
		return nil, 0, false
	}
	lines = make([][]score.Measure, len(patterns))
	for _, b := range bars {
		lines[b.line] = append(lines[b.line], score.Measure{Length: l.meter.Measure(), Notes: b.notes})
	}
	return lines, len(bars) - written, true
}

// segment lays one stretch.
func (l *layout) segment(s segment) ([]bar, bool) {
	var bars []bar
	pitches := s.pitches
	next := 0
	for next < len(pitches) {
		var b bar
		at := rhythm.Offset(0)
		for event := 0; at < rhythm.Offset(l.meter.Measure()) && next < len(pitches); event++ {
			e := l.events[event%len(l.events)]
			note := score.Note{At: at, Value: e.Value, Rest: e.Rest}
			if !e.Rest {
				if next == len(pitches)-1 && !s.open {
					if l.ends(at) {
						b.notes = append(b.notes, l.held(at, pitches[next], l.left(at)-l.meter.Beat())...)
						next++
						break
					}
					wait := l.wait(event, at)
					way := s.fill(wait)
					if way == nil {
						return nil, false
					}
					home := pitches[next]
					pitches = append(append(pitches[:next:next], way...), home)
				}
				note.Pitch = pitches[next]
				next++
			}
			b.notes = append(b.notes, note)
			at = at.Add(e.Value.Duration())
		}
		if s.open && next == len(pitches) && at < rhythm.Offset(l.meter.Measure()) {
			return nil, false
		}
		bars = append(bars, b)
	}
	return bars, true
}

// left reports how much of the measure is left from a point.
func (l *layout) left(at rhythm.Offset) rhythm.Duration {
	return l.meter.Measure() - rhythm.Duration(at)
}

// ends says whether a line may end at the point: on a beat, with a beat left to breathe in.
func (l *layout) ends(at rhythm.Offset) bool {
	return l.meter.OnBeat(at) && l.left(at) >= 2*l.meter.Beat()
}

// wait counts the notes from a point, where event stands, to the next at which a line may
// end.
func (l *layout) wait(event int, at rhythm.Offset) int {
	n := 0
	for ; ; event++ {
		e := l.events[event%len(l.events)]
		if !e.Rest {
			if l.ends(at) {
				return n
			}
			n++
		}
		if at = at.Add(e.Value.Duration()); at >= rhythm.Offset(l.meter.Measure()) {
			at, event = 0, -1
		}
	}
}

// held is a note that is held, and rests to the end of the measure.
func (l *layout) held(at rhythm.Offset, p theory.Pitch, hold rhythm.Duration) []score.Note {
	var notes []score.Note
	for _, v := range rhythm.Spell(at, hold, l.meter) {
		notes = append(notes, score.Note{At: at, Value: v, Pitch: p})
		at = at.Add(v.Duration())
	}
	for _, v := range rhythm.SpellRest(at, l.left(at), l.meter) {
		notes = append(notes, score.Note{At: at, Value: v, Rest: true})
		at = at.Add(v.Duration())
	}
	return notes
}

// breathe cuts every stretch that the wind does not reach over into as few as can be, about
// as long as each other: at a downbeat the note there is played for a beat, rests follow,
// and the next measure starts again from that same note. Where the last note of a stretch
// is held for too long it is held for a beat.
func (l *layout) breathe(bars []bar) ([]bar, bool) {
	var out []bar
	for from := 0; from < len(bars); {
		to := from + 1
		for to < len(bars) && bars[to].on {
			to++
		}
		more, ok := l.cut(bars[from:to])
		if !ok {
			return nil, false
		}
		out = append(out, more...)
		from = to
	}
	return out, true
}

// cut is breathe for one stretch.
func (l *layout) cut(bars []bar) ([]bar, bool) {
	measure := l.meter.Measure()
	end := rhythm.Duration(len(bars)-1)*measure + sounding(bars[len(bars)-1].notes)
	if end > l.breath {
		last := &bars[len(bars)-1]
		for i, n := range last.notes {
			if !n.Rest && i+1 < len(last.notes) && last.notes[i+1].Rest && n.Value.Duration() > l.meter.Beat() && l.meter.OnBeat(n.At) {
				last.notes = append(last.notes[:i:i], l.held(n.At, n.Pitch, l.meter.Beat())...)
				break
			}
		}
		end = rhythm.Duration(len(bars)-1)*measure + sounding(last.notes)
	}
	if end <= l.breath {
		return bars, true
	}
	whole := len(bars)
	if end == rhythm.Duration(whole-1)*measure+l.meter.Beat() {
		whole-- // nothing stops ahead of a measure that only ends the line
	}
	for pieces := 2; pieces <= whole; pieces++ {
		var out []bar
		begin, good := 0, true
		for k := 1; k <= pieces; k++ {
			to := (whole*k + pieces/2) / pieces
			if k == pieces {
				good = good && end-rhythm.Duration(begin)*measure <= l.breath
				out = append(out, bars[begin:]...)
				break
			}
			good = good && to > begin && rhythm.Duration(to-begin)*measure+l.meter.Beat() <= l.breath && !bars[to].notes[0].Rest
			if !good {
				break
			}
			out = append(append(out, bars[begin:to]...), bar{line: bars[to].line, notes: l.held(0, bars[to].notes[0].Pitch, l.meter.Beat())})
			begin = to
		}
		if good {
			return out, true
		}
	}
	return nil, false
}

// sounding reports where in a measure the last note ends.
func sounding(notes []score.Note) rhythm.Duration {
	var end rhythm.Duration
	for _, n := range notes {
		if !n.Rest {
			end = rhythm.Duration(n.At) + n.Value.Duration()
		}
	}
	return end
}

// articulate writes an articulation into the measures of an exercise, line by line. A slur
// never reaches over a rest or from a note to its repeat, and the note before a breath
// stands by itself but where all is slurred.
func (a *articulation) articulate(lines [][]score.Measure) {
	for _, measures := range lines {
		var stretch []*score.Note
		for i := range measures {
			notes := measures[i].Notes
			if a.kind == grouped {
				a.slurGroups(notes)
			}
			for k := range notes {
				n := &notes[k]
				if n.Rest {
					a.mark(stretch)
					stretch = nil
					continue
				}
				stretch = append(stretch, n)
			}
		}
		a.mark(stretch)
	}
}

// mark writes what goes by the stretch from breath to breath.
func (a *articulation) mark(stretch []*score.Note) {
	for i, n := range stretch {
		last := i == len(stretch)-1
		switch a.kind {
		case tenuto:
			n.Tenuto = !last
		case staccato:
			n.Staccato = !last
		case whole:
			joins := func(k int) bool {
				return k >= 0 && k+1 < len(stretch) && stretch[k].Pitch != stretch[k+1].Pitch
			}
			n.SlurStart = joins(i) && !joins(i-1)
			n.SlurStop = !joins(i) && joins(i-1)
		}
	}
}

// slurGroups slurs one measure by the plan; a measure that holds a rest, the end of a line,
// as far as whole groups go.
func (a *articulation) slurGroups(notes []score.Note) {
	played := 0
	for played < len(notes) && !notes[played].Rest {
		played++
	}
	if played < len(notes) {
		played-- // the held note
	}
	for at, g := 0, 0; ; g++ {
		size := a.groups[g%len(a.groups)]
		if at+size > played {
			return
		}
		if size > 1 && differ(notes[at:at+size]) {
			notes[at].SlurStart, notes[at+size-1].SlurStop = true, true
		}
		at += size
	}
}

// differ says whether no two neighbours are the same note.
func differ(notes []score.Note) bool {
	for i := 1; i < len(notes); i++ {
		if notes[i].Pitch == notes[i-1].Pitch {
			return false
		}
	}
	return true
}
