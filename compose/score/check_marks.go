package score

import (
	"onward/rhythm"
)

// slurs: a slur begins on one note and ends on a later one; slurs do not nest; no
// slur begins, ends or lasts over a rest. One may begin where another ends.
func slurs(l *line, f *Finding) {
	open := -1
	for k, s := range l.notes {
		if s.SlurStart || s.SlurStop {
			f.Examined++
		}
		if s.Rest && (s.SlurStart || s.SlurStop || open >= 0) {
			l.blameNote(f, s, "a slur at a rest or over it")
			open = -1
			continue
		}
		if s.SlurStop {
			if open < 0 {
				l.blameNote(f, s, "a slur ends that did not begin")
			}
			open = -1
		}
		if s.SlurStart {
			if open >= 0 {
				l.blameNote(f, s, "a slur begins inside another")
			}
			open = k
		}
	}
	if open >= 0 {
		l.blameNote(f, l.notes[open], "the slur does not end")
	}
}

// breaths: a breath mark stands after a note, never inside a slur or a tie.
func breaths(l *line, f *Finding) {
	inSlur := false
	for _, s := range l.notes {
		if s.SlurStop {
			inSlur = false
		}
		if s.SlurStart {
			inSlur = true
		}
		if !s.Breath {
			continue
		}
		f.Examined++
		switch {
		case s.Rest:
			l.blameNote(f, s, "a breath mark after a rest")
		case inSlur:
			l.blameNote(f, s, "a breath mark inside a slur")
		case s.TieStart:
			l.blameNote(f, s, "a breath mark inside a tie")
		}
	}
}

// knownMarks are the dynamic marks in use.
var knownMarks = map[string]bool{"pp": true, "p": true, "mp": true, "mf": true, "f": true, "ff": true, "fp": true, "sfz": true}

// dynamics: the marks are known, stand in their measure, in order, one at a place.
func dynamics(l *line, f *Finding) {
	for i := range l.part.Measures {
		m := &l.part.Measures[i]
		for k, d := range m.Dynamics {
			f.Examined++
			switch {
			case !knownMarks[d.Mark]:
				l.blame(f, i, d.At, "dynamic %q is not one of pp p mp mf f ff fp sfz", d.Mark)
			case d.At < 0 || d.At >= rhythm.Offset(m.Length):
				l.blame(f, i, d.At, "dynamic %s stands outside its measure", d.Mark)
			case k > 0 && d.At <= m.Dynamics[k-1].At:
				l.blame(f, i, d.At, "dynamic %s stands no later than the %s written ahead of it", d.Mark, m.Dynamics[k-1].Mark)
			}
		}
	}
}

// hairpins: each opens when none is open, and is stopped later. A stop may stand at
// the very end of a measure.
func hairpins(l *line, f *Finding) {
	type point struct {
		measure int
		at      rhythm.Offset
	}
	var open *point
	for i := range l.part.Measures {
		m := &l.part.Measures[i]
		for k, h := range m.Hairpins {
			f.Examined++
			here := point{i, h.At}
			switch {
			case h.Kind < Crescendo || h.Kind > HairpinStop:
				l.blame(f, i, h.At, "a hairpin of no known kind")
			case h.At < 0 || h.At > rhythm.Offset(m.Length) || (h.Kind != HairpinStop && h.At == rhythm.Offset(m.Length)):
				l.blame(f, i, h.At, "a hairpin's mark outside its measure")
			case k > 0 && h.At < m.Hairpins[k-1].At:
				l.blame(f, i, h.At, "a hairpin's mark before the one written ahead of it")
			case h.Kind == HairpinStop && open == nil:
				l.blame(f, i, h.At, "a hairpin stops that did not open")
			case h.Kind == HairpinStop && *open == here:
				l.blame(f, i, h.At, "a hairpin of no length")
			case h.Kind != HairpinStop && open != nil:
				l.blame(f, i, h.At, "a hairpin opens inside another")
			}
			open = &here
			if h.Kind == HairpinStop {
				open = nil
			}
		}
	}
	if open != nil {
		l.blame(f, open.measure, open.at, "the hairpin does not stop")
	}
}

// tempos: a mark counts a plain or dotted value at 20 to 300.
func tempos(l *line, f *Finding) {
	for i := range l.part.Measures {
		t := l.part.Measures[i].Tempo
		if t == nil {
			continue
		}
		f.Examined++
		switch {
		case t.BPM < 20 || t.BPM > 300:
			l.blame(f, i, 0, "a tempo of %d beats a minute is not 20 to 300", t.BPM)
		case t.Beat.Base < 1 || t.Beat.Base > 16 || t.Beat.Base&(t.Beat.Base-1) != 0 || t.Beat.Tuplet != rhythm.Ratio{} || t.Beat.Dots > 1:
			l.blame(f, i, 0, "a tempo mark counts a plain or dotted note, not %v", t.Beat)
		}
	}
}
