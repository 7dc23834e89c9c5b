package compose_test

import (
	"fmt"
	"slices"
	"strings"

	"onward/compose/score"
)

// slurRules are what a player asks of slurs, dots, accents and lines.
var slurRules = []rule{
	{"a slur joins different notes and passes no rest", "common practice of wind teachers; a slur over one pitch is a tie", 1_000, slursJoin, 0},
	{"a slur passes no repeat, ending, double bar or breath", "common practice", 1_000, slursStay, 0},
	{"a slur sets in on an eighth's place, or after another", "common practice", 1_000, slursBegin, 0},
	{"no dot under a slur", "common practice: portato is not asked of a reader", 250, dotsUnslurred, 0},
	{"like measures are marked alike", "common practice", 250, likeMarks, 250},
	{"a row of one note is marked alike", "common practice", 250, rowsAlike, 0},
	{"no dot in a song, no line in a march", "common practice of the styles", 150, styleMarks, 0},
	{"an accent stands on a beat or on a syncopation", "common practice", 50, accentsLean, 0},
	{"marks stand on the note that begins, and do not clash", "MusicXML 4.0: articulations belong to a note; common practice", 250, marksOnNotes, 0},
}

// slurs calls look with the first and last tone of each slur.
func (p *page) slurs(look func(first, last int)) {
	open := -1
	for i, n := range p.tones {
		if n.last.SlurStop || n.first.SlurStop {
			look(open, i)
		}
		if n.first.SlurStart || n.last.SlurStart {
			open = i
		}
	}
}

func slursJoin(p *page, l *look) {
	p.slurs(func(first, last int) {
		l.examined++
		if first < 0 || last <= first {
			l.blame(p, p.tones[last].first.measure, "a slur of one note")
			return
		}
		for i := first; i < last; i++ {
			a, b := &p.tones[i], &p.tones[i+1]
			switch {
			case a.last.end != b.first.start:
				l.blame(p, a.first.measure, "a slur over a rest")
			case a.pitch() == b.pitch():
				l.blame(p, a.first.measure, "a slur over %s twice", a.pitch())
			}
		}
	})
}

// parted reports whether something parts the two measures: a repeat, an ending's
// bracket, a double bar.
func (p *page) parted(a, b int) bool {
	for i := a; i < b; i++ {
		m, next := &p.part.Measures[i], &p.part.Measures[i+1]
		if m.RepeatEnd || m.DoubleBar || next.RepeatStart || next.EndingStart {
			return true
		}
	}
	return false
}

func slursStay(p *page, l *look) {
	p.slurs(func(first, last int) {
		l.examined++
		if first < 0 {
			return
		}
		if p.parted(p.tones[first].first.measure, p.tones[last].last.measure) {
			l.blame(p, p.tones[first].first.measure, "a slur passes a repeat, an ending or a double bar")
		}
		for _, n := range p.tones[first:last] {
			if n.last.Breath {
				l.blame(p, n.first.measure, "a breath under a slur")
			}
		}
	})
}

func slursBegin(p *page, l *look) {
	p.slurs(func(first, _ int) {
		l.examined++
		if first < 1 {
			return
		}
		n, before := p.tones[first], p.tones[first-1]
		if n.first.Value.Tuplet.Actual == 0 && n.first.at%(quarter/2) != 0 && !before.first.slurred && before.last.end == n.first.start && !before.last.Breath {
			l.blame(p, n.first.measure, "a slur sets in at tick %d of %s", n.first.at, p.r.Meter)
		}
	})
}

func dotsUnslurred(p *page, l *look) {
	for _, n := range p.ink {
		if n.Staccato {
			l.examined++
			if n.slurred {
				l.blame(p, n.measure, "%s has a dot under a slur", n.Pitch)
			}
		}
	}
}

// likeMarks compares measures of one section with the same notes; slurs from or into
// another measure, and breaths, are each measure's own.
func likeMarks(p *page, l *look) {
	for _, s := range p.r.Sections {
		seen := map[string]int{}
		for i := s.First; i < s.First+s.Measures; i++ {
			m := &p.part.Measures[i]
			var notes, marks strings.Builder
			first, last := p.ends(i)
			fmt.Fprint(&notes, first, last, m.Ending)
			for j, n := range m.Notes {
				fmt.Fprintf(&notes, "%s:%s ", n.Pitch, n.Value)
				inner := j > 0 && j < len(m.Notes)-1
				fmt.Fprintf(&marks, "%t%t%t%t", n.Staccato, n.Accent, n.SlurStart && inner, n.SlurStop && inner)
			}
			if len(m.Notes) < 3 || slices.ContainsFunc(m.Notes, func(n score.Note) bool { return n.Breath }) {
				continue
			}
			was, ok := seen[notes.String()]
			if !ok {
				seen[notes.String()] = i
				seen[notes.String()+marks.String()] = i
				continue
			}
			l.examined++
			if _, same := seen[notes.String()+marks.String()]; !same {
				l.blame(p, i, "marked otherwise than measure %d of the same notes", p.part.Measures[was].Number)
			}
		}
	}
}

// rowsAlike looks at equal notes of one pitch in a row inside a measure, free of slurs
// and accents: all have lines or none.
func rowsAlike(p *page, l *look) {
	for i := 1; i < len(p.ink); i++ {
		a, b := p.ink[i-1], p.ink[i]
		if a.Rest || b.Rest || a.measure != b.measure || a.Pitch != b.Pitch || a.Value != b.Value || a.slurred || b.slurred || a.TieStart || a.TieStop || b.Accent || a.Breath {
			continue
		}
		l.examined++
		if a.Tenuto != b.Tenuto {
			l.blame(p, a.measure, "%s twice, with a line once", a.Pitch)
		}
	}
}

// ends reports whether the measure is the first or the last of its phrase.
func (p *page) ends(measure int) (first, last bool) {
	for _, s := range p.r.Sections {
		for _, ph := range s.Phrases {
			first, last = first || measure == ph.First, last || measure == ph.First+ph.Measures-1
		}
	}
	return first, last
}

func styleMarks(p *page, l *look) {
	march := p.r.Style.Name == "march"
	for _, n := range p.ink {
		if n.Staccato || n.Tenuto {
			l.examined++
			if n.Staccato != march || n.Tenuto == march {
				l.blame(p, n.measure, "%s in %s", n.Pitch, p.r.Style.Name)
			}
		}
	}
}

func accentsLean(p *page, l *look) {
	g := grids[p.r.Meter.String()]
	for _, n := range p.tones {
		if !n.first.Accent {
			continue
		}
		l.examined++
		at := n.first.at
		if at%g.beat != 0 && at%quarter != 0 && at/g.beat == (at+n.length()-1)/g.beat {
			l.blame(p, n.first.measure, "an accent on a note at tick %d that leans on nothing", at)
		}
		if p.part.Measures[n.first.measure].Implicit {
			l.blame(p, n.first.measure, "an accent on the upbeat")
		}
	}
}

func marksOnNotes(p *page, l *look) {
	for _, n := range p.ink {
		if !n.Staccato && !n.Tenuto && !n.Accent && !n.Marcato {
			continue
		}
		l.examined++
		if n.Rest || n.TieStop || n.Staccato && n.Tenuto || n.Accent && n.Marcato || n.Staccato && n.Value.Base < 8 {
			l.blame(p, n.measure, "marks on %s:%s", n.Pitch, n.Value)
		}
	}
}

// dynamicRules are what a player asks of dynamics and hairpins.
var dynamicRules = []rule{
	{"every section begins with a dynamic", "common practice", 250, sectionsMarked, 0},
	{"no dynamic is said twice in a row", "common practice", 50, dynamicsDiffer, 0},
	{"a hairpin leads somewhere", "common practice: to another dynamic, or there and back", 100, hairpinsLead, 0},
	{"a phrase swells once at most", "common practice", 100, hairpinsAPhrase, 0},
	{"a hairpin has time, and passes no rest and no breath", "common practice", 100, hairpinsHaveTime, 0},
	{"a crescendo goes to the top of its phrase", "common practice", 50, crescendoToPeak, 0},
}

// markedFrom is the rung whose pages have dynamics though a read may lack them before.
const markedFrom = 2

func sectionsMarked(p *page, l *look) {
	if p.r.Rung < markedFrom {
		return
	}
	for _, s := range p.r.Sections {
		l.examined++
		m := &p.part.Measures[s.First]
		if s.First > 0 && p.part.Measures[s.First-1].Implicit {
			m = &p.part.Measures[s.First-1] // at the upbeat
		}
		if len(m.Dynamics) == 0 || m.Dynamics[0].At != 0 || m.Dynamics[0].Mark != s.Dynamic {
			l.blame(p, s.First, "%s begins without its %s", s.Name, s.Dynamic)
		}
	}
}

func dynamicsDiffer(p *page, l *look) {
	for _, s := range p.r.Sections {
		last, swelled := "", false
		for i := s.First; i < s.First+s.Measures; i++ {
			m := &p.part.Measures[i]
			swelled = swelled || len(m.Hairpins) > 0
			for _, d := range m.Dynamics {
				l.examined++
				if d.Mark == last && !swelled {
					l.blame(p, i, "%s again", d.Mark)
				}
				last, swelled = d.Mark, false
			}
		}
	}
}

// A hairpin is one swelling or fading: where it begins and ends, in ticks of the page.
type hairpin struct {
	kind     score.HairpinKind
	from, to int64
	measure  int    // where it begins
	goal     string // the dynamic at its end, "" for none
}

// hairpins lists the page's hairpins.
func (p *page) hairpins() []hairpin {
	marks := map[int64]string{}
	var out []hairpin
	start := int64(0)
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		for _, d := range m.Dynamics {
			marks[start+int64(d.At)] = d.Mark
		}
		for _, h := range m.Hairpins {
			if h.Kind == score.HairpinStop {
				out[len(out)-1].to = start + int64(h.At)
				continue
			}
			out = append(out, hairpin{kind: h.Kind, from: start + int64(h.At), measure: i})
		}
		start += int64(m.Length)
	}
	for i := range out {
		out[i].goal = marks[out[i].to]
	}
	return out
}

func hairpinsLead(p *page, l *look) {
	order := []string{"", "pp", "p", "mp", "mf", "f", "ff"}
	all := p.hairpins()
	for i, h := range all {
		l.examined++
		s := p.sectionOf(h.measure)
		switch {
		case h.goal != "":
			louder := slices.Index(order, h.goal) - slices.Index(order, s)
			if h.kind == score.Crescendo && louder <= 0 {
				l.blame(p, h.measure, "a crescendo from %s to %s", s, h.goal)
			}
		case h.kind == score.Crescendo && (i+1 == len(all) || all[i+1].kind != score.Diminuendo || all[i+1].from-h.to > 2*int64(p.r.Meter.Measure())):
			l.blame(p, h.measure, "a crescendo to nowhere")
		case h.kind == score.Diminuendo && (i == 0 || all[i-1].kind != score.Crescendo):
			l.blame(p, h.measure, "a diminuendo from nowhere")
		}
	}
}

// sectionOf reports the dynamic of the section that the measure lies in.
func (p *page) sectionOf(measure int) string {
	for _, s := range p.r.Sections {
		if s.First <= measure && measure < s.First+s.Measures {
			return s.Dynamic
		}
	}
	return ""
}

func hairpinsAPhrase(p *page, l *look) {
	swells := map[int]int{}
	for _, h := range p.hairpins() {
		l.examined++
		if h.kind != score.Crescendo {
			continue
		}
		for _, n := range p.tones {
			if n.first.start == h.from {
				if swells[n.phrase]++; swells[n.phrase] > 1 {
					l.blame(p, h.measure, "the phrase swells twice")
				}
			}
		}
	}
}

func hairpinsHaveTime(p *page, l *look) {
	beat := int64(p.r.Meter.Beat())
	for _, h := range p.hairpins() {
		l.examined++
		notes := 0
		for _, n := range p.ink {
			switch {
			case n.start < h.from || n.start >= h.to:
			case n.Rest:
				l.blame(p, h.measure, "a hairpin over a rest")
			default:
				notes++
				if n.Breath && n.end < h.to {
					l.blame(p, h.measure, "a hairpin over a breath")
				}
			}
		}
		if h.to-h.from < min(2*beat, int64(p.r.Meter.Measure())) || notes < 2 && h.to-h.from < 2*beat {
			l.blame(p, h.measure, "a hairpin of %d ticks over %d notes", h.to-h.from, notes)
		}
	}
}

// pastHalf reports whether a tone lies in the second half of a phrase's last measure,
// where the next phrase may set in.
func pastHalf(p *page, i int) bool {
	n := p.tones[i].first
	_, last := p.ends(n.measure)
	return last && 2*n.at >= int64(p.r.Meter.Measure())
}

// The note that a crescendo reaches is the highest between the hairpin's start and its
// phrase's end, or a whole step below that at most.
func crescendoToPeak(p *page, l *look) {
	for _, h := range p.hairpins() {
		if h.kind != score.Crescendo {
			continue
		}
		at := slices.IndexFunc(p.tones, func(n tone) bool { return n.first.start >= h.to })
		if at < 0 {
			continue
		}
		l.examined++
		for i, n := range p.tones {
			if n.pitch().MIDI() > p.tones[at].pitch().MIDI()+2 && n.first.start >= h.from && (i < at || n.phrase == p.tones[at].phrase && !pastHalf(p, i)) {
				l.blame(p, h.measure, "a crescendo to %s, but the phrase has %s", p.tones[at].pitch(), n.pitch())
				break
			}
		}
	}
}
