package musicxml

import (
	"slices"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"

	"pgregory.net/rapid"
)

// drawScore draws a legal score with every kind of sign that a score can hold.
func drawScore(t *rapid.T) *score.Score { return drawOf(t, false) }

// drawPlain is drawScore without what other programs count wrong: values shorter than
// a 32nd, tuplets that do not divide a beat, grace notes in tuplets.
func drawPlain(t *rapid.T) *score.Score { return drawOf(t, true) }

func drawOf(t *rapid.T, plain bool) *score.Score {
	text := rapid.StringMatching(`[A-Za-zé&<>"'\]\.;]{1,9}( [a-z♭0-9]{1,5})?`)
	s := &score.Score{
		Title:    text.Draw(t, "title"),
		Subtitle: rapid.SampledFrom([]string{"", "march, rung 3", "<slow> & \"pretty\""}).Draw(t, "subtitle"),
		Composer: rapid.SampledFrom([]string{"", "Onward"}).Draw(t, "composer"),
		Identity: rapid.SampledFrom([]string{"", "seed 7; march; rung 3"}).Draw(t, "identity"),
	}
	for range rapid.IntRange(1, 2).Draw(t, "parts") {
		p := drawPart(t, plain)
		p.Name = text.Draw(t, "name")
		s.Parts = append(s.Parts, p)
	}
	return s
}

func drawPart(t *rapid.T, plain bool) score.Part {
	p := score.Part{
		Abbreviation: rapid.SampledFrom([]string{"", "Euph."}).Draw(t, "abbreviation"),
		Program:      rapid.IntRange(0, 127).Draw(t, "program"),
		Sounds: rapid.SampledFrom([]theory.Interval{{}, {Steps: -1, Semitones: -2}, {Steps: -8, Semitones: -14},
			{Steps: -4, Semitones: -7}, {Steps: -12, Semitones: -21}, {Steps: -15, Semitones: -26}, {Steps: 7, Semitones: 12}}).Draw(t, "sounds"),
	}
	d := drawer{T: t, plain: plain, meter: rhythm.Meter{Beats: 4, Unit: 4}}
	count := rapid.IntRange(1, 10).Draw(t, "measures")
	for i := range count {
		p.Measures = append(p.Measures, d.measure(i, count))
	}
	d.joins(&p)
	d.form(&p)
	d.marks(&p)
	score.SetTuplets(&p)
	score.SetBeams(&p)
	score.SetAccidentals(&p)
	d.courtesies(&p)
	return p
}

// A drawer draws one part.
type drawer struct {
	*rapid.T
	plain  bool // see drawPlain
	meter  rhythm.Meter
	pickup rhythm.Duration // how much the first measure lacks
	number int
}

func (d *drawer) chance(percent int, name string) bool {
	return rapid.IntRange(1, 100).Draw(d.T, name) > 100-percent
}

func (d *drawer) measure(i, count int) score.Measure {
	m := score.Measure{}
	if i == 0 || d.chance(15, "new key") {
		m.Key = &theory.Key{Fifths: rapid.IntRange(-7, 7).Draw(d.T, "fifths"), Mode: theory.Mode(rapid.IntRange(0, 1).Draw(d.T, "mode"))}
	}
	if i == 0 || d.pickup == 0 && d.chance(15, "new meter") {
		meter := rapid.SampledFrom([]rhythm.Meter{{Beats: 2, Unit: 4}, {Beats: 3, Unit: 4}, {Beats: 4, Unit: 4}, rhythm.CutTime,
			{Beats: 2, Unit: 2}, {Beats: 6, Unit: 8}, {Beats: 3, Unit: 8}, {Beats: 9, Unit: 8}, {Beats: 5, Unit: 4}, {Beats: 7, Unit: 8}}).Draw(d.T, "meter")
		m.Meter, d.meter = &meter, meter
	}
	if i == 0 || d.chance(10, "new clef") {
		clef := theory.Clef(rapid.IntRange(0, 1).Draw(d.T, "clef"))
		m.Clef = &clef
	}
	d.heads(&m)
	m.NewSystem = i > 0 && d.chance(25, "new system")
	m.Length = d.meter.Measure()
	switch {
	case i == 0 && count > 1 && d.chance(30, "pickup"):
		m.Implicit = true
		d.pickup = m.Length - rhythm.Eighth*rhythm.Duration(rapid.IntRange(1, 2).Draw(d.T, "pickup eighths"))
		m.Length -= d.pickup
	case i == count-1 && d.pickup > 0:
		m.Length = d.pickup
	}
	if !m.Implicit {
		d.number++
	}
	m.Number = d.number
	d.fill(&m)
	return m
}

func (d *drawer) heads(m *score.Measure) {
	if d.chance(15, "tempo") {
		m.Tempo = &score.Tempo{
			Beat: rapid.SampledFrom([]rhythm.Value{{Base: 4}, {Base: 4, Dots: 1}, {Base: 2}, {Base: 8}}).Draw(d.T, "beat"),
			BPM:  rapid.IntRange(20, 300).Draw(d.T, "bpm"),
			Word: rapid.SampledFrom([]string{"", "Andante", "March tempo"}).Draw(d.T, "word"),
		}
	}
	if d.chance(15, "words") {
		m.Words = rapid.SampledFrom([]string{"Trio", "dolce", "più <mosso> & f"}).Draw(d.T, "text")
	}
	if d.chance(15, "rehearsal") {
		m.Rehearsal = rapid.SampledFrom([]string{"A", "B", "12"}).Draw(d.T, "letter")
	}
}

// groups are what measures are filled with, the longest first.
var groups = []string{"1", "2..", "2.", "2", "4t 4t 4t", "4..", "4.", "4", "8t 8t 8t", "4t 8t", "16(5:4) 16(5:4) 16(5:4) 16(5:4) 16(5:4)",
	"8.", "8. 16", "16 8.", "8", "16t 16t 16t", "16", "32", "64", "128"}

func (d *drawer) fill(m *score.Measure) {
	if d.chance(8, "silent") {
		m.Notes = []score.Note{{Rest: true, WholeMeasure: true, Value: rhythm.Value{Base: 1}}}
		return
	}
	for at := rhythm.Offset(0); at < rhythm.Offset(m.Length); {
		left := rhythm.Offset(m.Length).Since(at)
		var fitting [][]rhythm.Value
		for _, values := range groupValues {
			if total(values) <= left && (!d.plain || d.isPlain(at, values)) {
				fitting = append(fitting, values)
			}
		}
		if len(fitting) > 9 {
			fitting = fitting[:len(fitting)-4] // seldom the shortest
		}
		for _, v := range rapid.SampledFrom(fitting).Draw(d.T, "group") {
			m.Notes = append(m.Notes, d.note(at, v))
			at = at.Add(v.Duration())
		}
	}
}

// isPlain reports whether the values may stand at a measure offset of a plain score.
func (d *drawer) isPlain(at rhythm.Offset, values []rhythm.Value) bool {
	sum := total(values)
	inTuplet := values[0].Tuplet != (rhythm.Ratio{})
	return values[0].Base <= 32 && (!inTuplet || d.meter.Beat()%sum == 0 && at%rhythm.Offset(sum) == 0)
}

// groupValues holds the values of groups.
var groupValues = func() [][]rhythm.Value {
	var list [][]rhythm.Value
	for _, g := range groups {
		var values []rhythm.Value
		p := score.MustText("15/2 short C4:" + strings.ReplaceAll(g, " ", " C4:"))
		for _, n := range p.Measures[0].Notes {
			values = append(values, n.Value)
		}
		list = append(list, values)
	}
	return list
}()

func total(values []rhythm.Value) rhythm.Duration {
	sum := rhythm.Duration(0)
	for _, v := range values {
		sum += v.Duration()
	}
	return sum
}

func (d *drawer) pitch() theory.Pitch {
	return theory.Pitch{Letter: theory.Letter(rapid.IntRange(0, 6).Draw(d.T, "letter")),
		Alter:  rapid.SampledFrom([]int{0, 0, 0, 0, -1, 1, -1, 1, -2, 2}).Draw(d.T, "alter"),
		Octave: rapid.IntRange(3, 5).Draw(d.T, "octave")}
}

func (d *drawer) note(at rhythm.Offset, v rhythm.Value) score.Note {
	n := score.Note{At: at, Value: v, Fermata: d.chance(3, "fermata")}
	if n.Rest = d.chance(15, "rest"); n.Rest {
		return n
	}
	n.Pitch = d.pitch()
	n.Staccato, n.Tenuto = d.chance(10, "staccato"), d.chance(10, "tenuto")
	n.Accent, n.Marcato = d.chance(10, "accent"), d.chance(5, "marcato")
	if d.chance(10, "grace") && (!d.plain || v.Tuplet == rhythm.Ratio{}) {
		for range rapid.IntRange(1, 3).Draw(d.T, "graces") {
			g := n.Pitch
			g.Letter, g.Octave = theory.Letter((int(g.Letter)+1)%7), g.Octave+(int(g.Letter)+1)/7
			n.Grace = append(n.Grace, g)
		}
		n.GraceSlur = d.chance(50, "grace slur")
	}
	return n
}

// joins draws ties, slurs and breaths, which go from note to note.
func (d *drawer) joins(p *score.Part) {
	var notes []*score.Note
	for i := range p.Measures {
		for j := range p.Measures[i].Notes {
			notes = append(notes, &p.Measures[i].Notes[j])
		}
	}
	inSlur := false
	for k, n := range notes {
		next := k+1 < len(notes) && !notes[k+1].Rest && !n.Rest
		if next && d.chance(15, "tie") {
			n.TieStart, notes[k+1].TieStop = true, true
			notes[k+1].Pitch, notes[k+1].Grace, notes[k+1].GraceSlur = n.Pitch, nil, false
		}
		if inSlur && (!next || d.chance(40, "slur ends")) {
			n.SlurStop, inSlur = true, false
		}
		if !inSlur && next && d.chance(25, "slur begins") {
			n.SlurStart, inSlur = true, true
		}
		n.Breath = !n.Rest && !inSlur && !n.TieStart && d.chance(8, "breath")
	}
}

// form draws repeats, endings and barlines.
func (d *drawer) form(p *score.Part) {
	count := len(p.Measures)
	if count >= 4 && d.chance(60, "repeat") {
		start := rapid.IntRange(0, count-4).Draw(d.T, "repeat start")
		end := rapid.IntRange(start+1, count-3).Draw(d.T, "repeat end")
		p.Measures[start].RepeatStart = start > 0 || d.chance(50, "repeat sign")
		p.Measures[end].RepeatEnd = true
		if d.chance(60, "endings") {
			first := rapid.IntRange(start+1, end).Draw(d.T, "first ending")
			p.Measures[first].EndingStart, p.Measures[end].EndingStop = true, true
			for i := first; i <= end; i++ {
				p.Measures[i].Ending = 1
			}
			second := &p.Measures[end+1]
			second.Ending, second.EndingStart, second.EndingStop = 2, true, true
		}
	}
	for i := range p.Measures[:count-1] {
		m := &p.Measures[i]
		m.DoubleBar = !m.RepeatEnd && d.chance(10, "double bar")
	}
	p.Measures[count-1].FinalBar = true
}

// marks draws dynamics and hairpins at any place of the measures.
func (d *drawer) marks(p *score.Part) {
	open := false
	for i := range p.Measures {
		m := &p.Measures[i]
		places := rapid.SliceOfNDistinct(rapid.Int64Range(0, int64(m.Length/rhythm.Sixteenth)-1), 0, 2, rapid.ID[int64]).Draw(d.T, "places")
		slices.Sort(places)
		for _, k := range places {
			at := rhythm.Offset(k * int64(rhythm.Sixteenth))
			switch {
			case d.chance(50, "dynamic"):
				mark := rapid.SampledFrom([]string{"pp", "p", "mp", "mf", "f", "ff", "fp", "sfz"}).Draw(d.T, "mark")
				m.Dynamics = append(m.Dynamics, score.Dynamic{At: at, Mark: mark})
			case open:
				m.Hairpins, open = append(m.Hairpins, score.Hairpin{At: at, Kind: score.HairpinStop}), false
			default:
				kind := score.HairpinKind(rapid.IntRange(0, 1).Draw(d.T, "hairpin"))
				m.Hairpins, open = append(m.Hairpins, score.Hairpin{At: at, Kind: kind}), true
			}
		}
		if open && (i == len(p.Measures)-1 || d.chance(30, "stop at the barline")) {
			m.Hairpins, open = append(m.Hairpins, score.Hairpin{At: rhythm.Offset(m.Length), Kind: score.HairpinStop}), false
		}
	}
}

// courtesies adds reminders where the page needs none.
func (d *drawer) courtesies(p *score.Part) {
	for i := range p.Measures {
		for j := range p.Measures[i].Notes {
			n := &p.Measures[i].Notes[j]
			if !n.Rest && !n.TieStop && n.Accidental == score.Hidden && d.chance(5, "courtesy") {
				n.Accidental = score.Courtesy
			}
		}
	}
}
