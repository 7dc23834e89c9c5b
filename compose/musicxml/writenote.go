package musicxml

import (
	"strconv"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// graceSlur is the number of a slur that begins on a grace note; other slurs take
// 1 and 2 in turn, so that one may begin where another ends.
const graceSlur = 3

// graceTime is the share of the note before that the grace notes take, in percent:
// they come ahead of the beat.
const graceTime = "25"

// notes writes the measure's notes with the dynamics and hairpins among them.
func (w *writer) notes(m *score.Measure) {
	dynamics, hairpins := m.Dynamics, m.Hairpins
	// marks writes those marks that stand before until; from is where the next note
	// or the end of the measure stands.
	marks := func(from, until rhythm.Offset) {
		for len(dynamics) > 0 || len(hairpins) > 0 {
			hairpinAt, dynamicAt := until, until
			if len(hairpins) > 0 {
				hairpinAt = hairpins[0].At
			}
			if len(dynamics) > 0 {
				dynamicAt = dynamics[0].At
			}
			switch {
			case hairpinAt >= until && dynamicAt >= until:
				return
			case hairpinAt < dynamicAt || (hairpinAt == dynamicAt && hairpins[0].Kind == score.HairpinStop):
				w.hairpin(hairpins[0], from)
				hairpins = hairpins[1:]
			default:
				w.dynamic(dynamics[0], from)
				dynamics = dynamics[1:]
			}
		}
	}
	for j := range m.Notes {
		n := &m.Notes[j]
		marks(n.At, n.At.Add(n.Duration(m)))
		w.graces(n)
		w.note(m, j)
	}
	end := rhythm.Offset(m.Length)
	marks(end, end+1)
}

func (w *writer) dynamic(d score.Dynamic, from rhythm.Offset) {
	w.mark(d.At, from, func() {
		w.open("dynamics")
		w.empty(d.Mark)
		w.end()
	})
}

func (w *writer) hairpin(h score.Hairpin, from rhythm.Offset) {
	kind := [...]string{score.Crescendo: "crescendo", score.Diminuendo: "diminuendo", score.HairpinStop: "stop"}[h.Kind]
	w.mark(h.At, from, func() { w.empty("wedge", "type", kind, "number", "1") })
}

// mark writes a direction below the staff, at the place at, where the notes have
// come to from.
func (w *writer) mark(at, from rhythm.Offset, write func()) {
	w.open("direction", "placement", "below")
	w.open("direction-type")
	write()
	w.end()
	if at != from {
		w.leaf("offset", w.inDivisions(int64(at-from)))
	}
	w.end()
}

// graces writes the grace notes ahead of n: one as a slashed eighth, several as
// beamed sixteenths, played ahead of the beat.
func (w *writer) graces(n *score.Note) {
	for k, g := range n.Grace {
		how := w.inForce.Print(g)
		w.open("note")
		if len(n.Grace) == 1 {
			w.empty("grace", "steal-time-previous", graceTime, "slash", "yes")
		} else {
			w.empty("grace", "steal-time-previous", graceTime)
		}
		w.pitch(g)
		w.leaf("voice", "1")
		if len(n.Grace) == 1 {
			w.leaf("type", "eighth")
			w.accidental(how, g.Alter)
		} else {
			w.leaf("type", "16th")
			w.accidental(how, g.Alter)
			share := "continue"
			switch k {
			case 0:
				share = "begin"
			case len(n.Grace) - 1:
				share = "end"
			}
			w.leaf("beam", share, "number", "1")
			w.leaf("beam", share, "number", "2")
		}
		if k == 0 && n.GraceSlur {
			w.open("notations")
			w.empty("slur", "type", "start", "number", strconv.Itoa(graceSlur))
			w.end()
		}
		w.end()
	}
}

func (w *writer) note(m *score.Measure, j int) {
	n := &m.Notes[j]
	if !n.Rest {
		if n.TieStop {
			w.inForce.Held(n.Pitch)
		} else {
			w.inForce.Sound(n.Pitch)
		}
	}
	w.open("note")
	w.soundOf(m, n)
	w.leaf("voice", "1")
	w.valueOf(n)
	for level, b := range n.Beams {
		w.leaf("beam", beamNames[b], "number", strconv.Itoa(level+1))
	}
	w.notations(m, j)
	w.end()
}

// soundOf writes pitch, duration and ties.
func (w *writer) soundOf(m *score.Measure, n *score.Note) {
	switch {
	case n.WholeMeasure:
		w.empty("rest", "measure", "yes")
	case n.Rest:
		w.empty("rest")
	default:
		w.pitch(n.Pitch)
	}
	w.leaf("duration", w.inDivisions(int64(n.Duration(m))))
	if n.TieStop {
		w.empty("tie", "type", "stop")
	}
	if n.TieStart {
		w.empty("tie", "type", "start")
	}
}

func (w *writer) pitch(p theory.Pitch) {
	w.open("pitch")
	w.leaf("step", p.Letter.String())
	if p.Alter != 0 {
		w.leaf("alter", strconv.Itoa(p.Alter))
	}
	w.leaf("octave", strconv.Itoa(p.Octave))
	w.end()
}

// valueOf writes the note's type, dots, accidental and tuplet ratio.
func (w *writer) valueOf(n *score.Note) {
	if n.WholeMeasure {
		return
	}
	w.leaf("type", typeName(n.Value.Base))
	for range n.Value.Dots {
		w.empty("dot")
	}
	if !n.Rest {
		w.accidental(n.Accidental, n.Pitch.Alter)
	}
	if t := n.Value.Tuplet; t != (rhythm.Ratio{}) {
		w.open("time-modification")
		w.leaf("actual-notes", strconv.Itoa(t.Actual))
		w.leaf("normal-notes", strconv.Itoa(t.Normal))
		w.end()
	}
}

// accidentalNames holds MusicXML's names, double flat (-2) first.
var accidentalNames = [5]string{"flat-flat", "flat", "natural", "sharp", "double-sharp"}

func (w *writer) accidental(how score.Accidental, alter int) {
	if how == score.Hidden || alter < -2 || alter > 2 {
		return
	}
	if how == score.Courtesy {
		w.leaf("accidental", accidentalNames[alter+2], "cautionary", "yes", "parentheses", "yes")
		return
	}
	w.leaf("accidental", accidentalNames[alter+2])
}

// beamNames holds MusicXML's names of a note's share in a beam.
var beamNames = [...]string{
	score.BeamBegin: "begin", score.BeamContinue: "continue", score.BeamEnd: "end",
	score.BeamForwardHook: "forward hook", score.BeamBackwardHook: "backward hook",
}

// typeNames holds MusicXML's names of note values by their base.
var typeNames = map[int]string{
	1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th", 128: "128th",
}

func typeName(base int) string { return typeNames[base] }

// notations writes what is drawn at the note: ties, slurs, bracket, marks.
func (w *writer) notations(m *score.Measure, j int) {
	n := &m.Notes[j]
	start := w.text.Len()
	w.open("notations")
	empty := w.text.Len()
	if n.TieStop {
		w.empty("tied", "type", "stop")
	}
	if n.TieStart {
		w.empty("tied", "type", "start")
	}
	w.slurs(n)
	if n.TupletStart {
		w.empty("tuplet", "type", "start", "number", "1", "bracket", yesNo(!beamedTuplet(m.Notes, j)))
	}
	if n.TupletStop {
		w.empty("tuplet", "type", "stop", "number", "1")
	}
	w.articulations(n)
	if n.Fermata {
		w.empty("fermata", "type", "upright")
	}
	filled := w.text.Len() > empty
	w.end()
	if !filled {
		w.text.Truncate(start)
	}
}

func (w *writer) slurs(n *score.Note) {
	if n.GraceSlur && len(n.Grace) > 0 {
		w.empty("slur", "type", "stop", "number", strconv.Itoa(graceSlur))
	}
	if n.SlurStop {
		w.empty("slur", "type", "stop", "number", strconv.Itoa(w.slur))
	}
	if n.SlurStart {
		w.slur = 3 - w.slur
		w.empty("slur", "type", "start", "number", strconv.Itoa(w.slur))
	}
}

func (w *writer) articulations(n *score.Note) {
	if !n.Accent && !n.Marcato && !n.Staccato && !n.Tenuto && !n.Breath {
		return
	}
	w.open("articulations")
	if n.Accent {
		w.empty("accent")
	}
	if n.Marcato {
		w.empty("strong-accent", "type", "up")
	}
	if n.Staccato {
		w.empty("staccato")
	}
	if n.Tenuto {
		w.empty("tenuto")
	}
	if n.Breath {
		w.empty("breath-mark")
	}
	w.end()
}

// beamedTuplet reports whether the tuplet that begins at note j is one beamed group,
// so that its number needs no bracket.
func beamedTuplet(notes []score.Note, j int) bool {
	for k := j; k < len(notes); k++ {
		if len(notes[k].Beams) == 0 {
			return false
		}
		first, last := k == j, notes[k].TupletStop
		want := score.BeamContinue
		switch {
		case first && !last:
			want = score.BeamBegin
		case last && !first:
			want = score.BeamEnd
		}
		if notes[k].Beams[0] != want {
			return false
		}
		if last {
			return true
		}
	}
	return false
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
