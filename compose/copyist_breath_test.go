package compose_test

import (
	"slices"
	"strings"

	"onward/compose"
	"onward/compose/score"
)

// breathRules are what a teacher asks of breath marks.
var breathRules = []rule{
	{"no breath mark at a rest", "common practice: the rest is the breath", 1_000, breathsWithoutRest, 0},
	{"no breath between a leading tone and its tonic", "common practice", 1_000, breathsLeadOn, 20},
	{"no breath inside a slur or a tie", "common practice", 1_000, breathsUnbound, 0},
	{"no breath on or before a note too short for it", "common practice: not inside a dotted figure nor within the beat", 1_000, breathsHavePlace, 160},
	{"breaths lie apart", "common practice of tuba teachers: not every measure", 150, breathsApart, 120},
	{"no more breaths than are needed", "common practice: one a phrase, and what the wind asks for", 150, breathsFew, 0},
}

// breathing calls look with the index of each tone after which a breath is marked.
func (p *page) breathing(look func(i int)) {
	for i := range p.tones {
		if p.tones[i].last.Breath || p.tones[i].first.Breath {
			look(i)
		}
	}
}

func breathsWithoutRest(p *page, l *look) {
	p.breathing(func(i int) {
		l.examined++
		if i+1 == len(p.tones) {
			l.blame(p, p.tones[i].first.measure, "a breath mark after the last note")
		} else if p.tones[i].last.end != p.tones[i+1].first.start {
			l.blame(p, p.tones[i].first.measure, "a breath mark ahead of a rest")
		}
	})
}

func breathsLeadOn(p *page, l *look) {
	p.breathing(func(i int) {
		if i+1 == len(p.tones) {
			return
		}
		l.examined++
		a, b := &p.tones[i], &p.tones[i+1]
		leading := a.first.key.LeadingTone()
		_, last := p.ends(a.first.measure)
		long := last || a.length() >= 2*int64(p.r.Meter.Beat()) // it ends what comes before it
		if a.pitch().Class() == leading && b.pitch().Class() == a.first.key.Tonic() && a.phrase == b.phrase && !long {
			l.blame(p, a.first.measure, "%s, breath, %s", a.pitch(), b.pitch())
		}
	})
}

func breathsUnbound(p *page, l *look) {
	for _, n := range p.ink {
		if !n.Breath {
			continue
		}
		l.examined++
		if n.Rest || n.TieStart || n.slurred && !n.SlurStop || n.SlurStart {
			l.blame(p, n.measure, "a breath under a slur or a tie")
		}
	}
}

// A breath follows a note of a triplet eighth or more, and precedes one that begins on a
// beat or, after a note longer than an eighth, where it likes: dotted rhythms have no
// other place.
func breathsHavePlace(p *page, l *look) {
	beat := int64(p.r.Meter.Beat())
	p.breathing(func(i int) {
		if i+1 == len(p.tones) {
			return
		}
		l.examined++
		a, b := &p.tones[i], &p.tones[i+1]
		switch {
		case a.length() < quarter/3:
			l.blame(p, a.first.measure, "a breath after a note of %d ticks", a.length())
		case b.first.at%beat != 0 && a.length() < beat && a.length() <= quarter/2:
			l.blame(p, a.first.measure, "a breath inside a beat of %s, at tick %d", p.r.Meter, b.first.at)
		}
	})
}

// breathings lists where each stretch on one breath begins and ends, in ticks: marks and
// rests of an eighth or a fifth of a second part them, and the two endings.
func (p *page) breathings() (stretches [][2]int64, phraseEnds []bool) {
	second := float64(p.r.Meter.Beat()) * float64(p.r.Tempo) / 60
	from := p.tones[0].first.start
	for i := range p.tones {
		a := &p.tones[i]
		last := i == len(p.tones)-1
		gap := 0.0
		ends := last
		if !last {
			b := &p.tones[i+1]
			gap = float64(b.first.start - a.last.end)
			ends = b.phrase != a.phrase || p.parted(a.last.measure, b.first.measure)
		}
		if last || a.last.Breath || gap >= second/5 || gap >= quarter/2 {
			stretches, phraseEnds = append(stretches, [2]int64{from, a.last.end}), append(phraseEnds, ends)
			if !last {
				from = p.tones[i+1].first.start
			}
		}
	}
	return stretches, phraseEnds
}

// Two breaths inside a phrase are more than a measure apart, counted from breath to
// breath, where the wind lasts; and never less than half of one.
func breathsApart(p *page, l *look) {
	stretches, ends := p.breathings()
	measure := int64(p.r.Meter.Measure())
	second := float64(p.r.Meter.Beat()) * float64(p.r.Tempo) / 60
	for i := 1; i+1 < len(stretches); i++ {
		if ends[i] || ends[i-1] {
			continue
		}
		s, next := stretches[i], stretches[i+1]
		k := slices.IndexFunc(p.tones, func(n tone) bool { return n.last.end == s[1] })
		n := &p.tones[k]
		if !n.last.Breath || p.part.Measures[n.first.measure].Ending == 1 {
			continue
		}
		l.examined++
		lasts := float64(next[1]-s[0])/second <= windOf(p.r, p.r.Sections[n.section])
		if length := s[1] - s[0]; lasts && length < measure || 2*length < measure {
			l.blame(p, n.first.measure, "a breath %d ticks after the last in %s", length, p.r.Meter)
		}
	}
}

// The marks on a page are at most one a phrase, one more where its endings part, and as
// many as the wind of the instrument asks for at the louder dynamic of its section.
func breathsFew(p *page, l *look) {
	l.examined++
	marks, most := 0, 0
	p.breathing(func(int) { marks++ })
	second := float64(p.r.Meter.Beat()) * float64(p.r.Tempo) / 60
	for _, s := range p.r.Sections {
		for _, ph := range s.Phrases {
			long := (float64(ph.Measures)*float64(p.r.Meter.Measure()) + float64(p.r.Meter.Beat())) / second
			most += int(long/windOf(p.r, s)) + 1
		}
		if s.Endings {
			most++
		}
	}
	if marks > most {
		l.blame(p, 0, "%d breath marks in %d measures of %s, %d at most", marks, len(p.part.Measures), p.r.Meter, most)
	}
}

// windOf reports how many seconds the player's breath lasts in a section.
func windOf(r *compose.Read, s compose.Section) float64 {
	wind := r.Request.Instrument.Breath[0]
	for _, mark := range []string{s.Dynamic, s.Again} {
		switch mark {
		case "mf":
			wind = min(wind, r.Request.Instrument.Breath[1])
		case "f", "ff":
			wind = min(wind, r.Request.Instrument.Breath[2])
		}
	}
	return wind
}

// layoutRules are what a copyist asks of barlines, brackets, letters and words.
var layoutRules = []rule{
	{"the last measure ends with a final barline or a repeat", "MusicXML 4.0: bar-style light-heavy; common practice", 150, finalBars, 0},
	{"sections end with a double bar or a repeat", "common practice", 150, sectionBars, 0},
	{"endings are bracketed one, two", "MusicXML 4.0: ending", 25, endingBrackets, 0},
	{"rehearsal letters run through the alphabet at sections", "common practice", 50, letters, 0},
	{"the tempo is said once, at the head", "common practice", 150, temposOnce, 0},
	{"words are not repeated", "common practice", 25, wordsOnce, 0},
	{"a new key stands at a section's start", "common practice", 10, keysAtSections, 0},
}

func finalBars(p *page, l *look) {
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		last := i == len(p.part.Measures)-1
		if last || m.FinalBar {
			l.examined++
			if m.FinalBar != last && !(last && m.RepeatEnd) {
				l.blame(p, i, "final barline: %t", m.FinalBar)
			}
		}
	}
}

func sectionBars(p *page, l *look) {
	for _, s := range p.r.Sections {
		l.examined++
		m := &p.part.Measures[s.First+s.Measures-1]
		if !m.DoubleBar && !m.FinalBar && !m.RepeatEnd {
			l.blame(p, s.First+s.Measures-1, "%s ends in a single barline", s.Name)
		}
		if s.Repeat && s.First > 0 && !p.part.Measures[s.First].RepeatStart {
			l.blame(p, s.First, "%s is repeated from nowhere", s.Name)
		}
	}
}

func endingBrackets(p *page, l *look) {
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		if m.Ending == 0 {
			continue
		}
		l.examined++
		fine := m.EndingStart && m.EndingStop
		if m.Ending == 1 {
			fine = fine && m.RepeatEnd && p.part.Measures[i+1].Ending == 2
		} else {
			fine = fine && !m.RepeatEnd && p.part.Measures[i-1].Ending == 1
		}
		if !fine {
			l.blame(p, i, "ending %d", m.Ending)
		}
	}
}

func letters(p *page, l *look) {
	next := "A"
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		if m.Rehearsal == "" {
			continue
		}
		l.examined++
		starts := slices.ContainsFunc(p.r.Sections, func(s compose.Section) bool { return s.First == i })
		if m.Rehearsal != next || !starts {
			l.blame(p, i, "letter %s, want %s at a section's start", m.Rehearsal, next)
		}
		next = string(m.Rehearsal[0] + 1)
	}
}

func temposOnce(p *page, l *look) {
	for i := range p.part.Measures {
		if t := p.part.Measures[i].Tempo; (t != nil) != (i == 0) {
			l.blame(p, i, "tempo mark: %t", t != nil)
		}
	}
	l.examined++
}

func wordsOnce(p *page, l *look) {
	seen := map[string]int{}
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		if m.Words == "" {
			continue
		}
		l.examined++
		if again := strings.Contains(m.Words, "second time"); again && i > 0 && !m.RepeatStart {
			l.blame(p, i, "%q stands where no repeat begins", m.Words)
		}
		for _, w := range strings.Split(m.Words, ", ") {
			if was, ok := seen[w]; ok && !strings.HasPrefix(w, "second time") {
				l.blame(p, i, "%q stands in measure %d already", w, was+1)
			}
			seen[w] = i
		}
	}
}

func keysAtSections(p *page, l *look) {
	var key *score.Measure
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		if m.Key == nil {
			continue
		}
		if key != nil {
			l.examined++
			starts := slices.ContainsFunc(p.r.Sections, func(s compose.Section) bool { return s.First == i })
			if !starts || *m.Key == *key.Key {
				l.blame(p, i, "a new key: %s", m.Key)
			}
		}
		key = m
	}
}
