package fit

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// A Lesson is a tune with how much it counts.
type Lesson struct {
	Tune  *tune.Tune
	Times int     // how often its rhythms, first note and form count, 1 or more
	Line  float64 // how much a new note of its line counts
}

// A Course is all that one meter is learned from.
type Course struct {
	Beats, Unit int
	Lessons     []Lesson // for rhythm, first notes and line; no part of a tune twice
	Forms       []Lesson // for forms, of any length
	More        []Lesson // for the line alone, in any meter
	Altered     []Lesson // for altered notes, in any meter
	Penalty     float64  // of the line's weights
	Rounds      int      // of the optimizer, at most
}

// strain is the kind of tunes that are strains of bands.
const strain = "march"

// familiar is the weight of a note that only repeats an earlier measure, beside a new one.
// Hand-set, as in the prototype.
const familiar = .35

// Meter learns a meter from a course. It fails without lessons.
func Meter(c *Course) (*idiom.Meter, error) {
	if len(c.Lessons) == 0 {
		return nil, errors.New("there is no tune to learn from")
	}
	model := c.Lessons[0].Tune
	known := c.known()
	var written [][]idiom.Rhythm // of tunes that are no strains, measure by measure
	for _, l := range c.Lessons {
		if l.Tune.Kind != strain {
			written = append(written, rhythms(l.Tune))
		}
	}
	classes := 6
	if len(written) > 150 {
		classes = 10
	}
	groups := cluster(written, known, classes, model.Beat(), model.Measured())
	m := idiom.NewMeter(name(c.Beats, c.Unit), model.Measured(), model.Beat(), len(groups.centers), known)
	if len(written) < len(c.Lessons) {
		m.Band = m.Classes
		m.Classes++
	}
	classOf := func(t *tune.Tune) int {
		if t.Kind == strain {
			return m.Band
		}
		return groups.classOf(rhythms(t))
	}
	for _, l := range c.Lessons {
		countRhythms(m, l, rhythms(l.Tune), classOf(l.Tune))
		m.CountFirst(l.Tune.Chords()[0], mod7(l.Tune.Notes[0].Step), l.Times)
		countClose(m, l)
	}
	for _, l := range c.Forms {
		if f, ok := FormOf(l.Tune, classOf(l.Tune)); ok {
			f.Weight = min(l.Times, strainForms)
			m.Forms = append(m.Forms, f)
		}
	}
	for _, l := range c.Altered {
		countAltered(m, l)
	}
	c.fitLine(m)
	return m, nil
}

// name reports the name of a meter.
func name(beats, unit int) string { return fmt.Sprintf("%d/%d", beats, unit) }

// rhythms reports the rhythm of each measure of a tune.
func rhythms(t *tune.Tune) []idiom.Rhythm {
	var all []idiom.Rhythm
	for _, notes := range t.ByMeasure() {
		all = append(all, tune.RhythmOf(notes))
	}
	return all
}

// known reports the rhythms of the measures of the lessons, the most frequent first. Those
// that stand there once are among them: tunes held back are foretold better so.
func (c *Course) known() []idiom.Rhythm {
	type seen struct {
		rhythm idiom.Rhythm
		name   string
		times  int
	}
	at := map[string]*seen{}
	for _, l := range c.Lessons {
		for _, r := range rhythms(l.Tune) {
			name := fmt.Sprint(r)
			if len(r) == 0 {
				continue
			}
			if at[name] == nil {
				at[name] = &seen{rhythm: r, name: name}
			}
			at[name].times += l.Times
		}
	}
	var all []*seen
	for _, s := range at {
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b *seen) int {
		return cmp.Or(b.times-a.times, cmp.Compare(a.name, b.name))
	})
	var known []idiom.Rhythm
	for _, s := range all {
		known = append(known, s.rhythm)
	}
	return known
}

// countRhythms counts the rhythms that a tune makes up: those of measures that take up none
// before.
func countRhythms(m *idiom.Meter, l Lesson, written []idiom.Rhythm, class int) {
	var before idiom.Rhythm
	for i, relation := range l.Tune.Relations() {
		if relation.Kind == idiom.New {
			m.CountRhythm(class, idiom.PlaceOf(i, len(written)), before, written[i], l.Times)
		}
		if before = written[i]; before == nil {
			before = idiom.Rhythm{} // silent, which is not the start
		}
	}
}

// countClose counts the interval into the tonic that a tune closes on, the first of several.
func countClose(m *idiom.Meter, l Lesson) {
	notes := l.Tune.Notes
	k := len(notes) - 1
	for k > 1 && notes[k-1].Step == notes[k].Step {
		k--
	}
	if k > 0 && mod7(notes[k].Step) == 0 {
		m.CountClose(notes[k].Step-notes[k-1].Step, l.Times)
	}
}

// countAltered counts which notes are lowered, natural, raised.
func countAltered(m *idiom.Meter, l Lesson) {
	notes := l.Tune.Notes
	for i, n := range notes {
		arrive, leave := 0, 0
		if i > 0 {
			arrive = n.Step - notes[i-1].Step
		}
		if i+1 < len(notes) {
			leave = notes[i+1].Step - n.Step
		}
		m.CountAlter(n.Step, arrive, leave, l.Tune.Minor, n.Alter, l.Times)
	}
}

// FormOf reports the form of a tune that closes on the tonic, or of one of 8 measures or a
// strain that stays open on the dominant; false for others. A strain of a band part that
// closes on another note of the tonic chord, as lower parts do, counts as closing on the
// tonic.
func FormOf(t *tune.Tune, class int) (idiom.Form, bool) {
	f := idiom.Form{Minor: t.Minor, Class: class, Pickup: t.Pickup(), First: idiom.None, Weight: 1}
	f.Low, f.High = t.Notes[0].Step, t.Notes[0].Step
	for _, n := range t.Notes {
		f.Low, f.High = min(f.Low, n.Step), max(f.High, n.Step)
	}
	highest := f.High
	if f.High = min(f.High, f.Low+11); f.High-f.Low < 6 {
		f.High = f.Low + 7
	}
	measures, chords, relations, ends := t.ByMeasure(), t.Chords(), t.Relations(), t.Ends()
	if len(measures[0]) > 0 {
		f.First = mod7(measures[0][0].Step)
	}
	for i := range measures {
		m := idiom.Measure{Relation: relations[i], Chord: chords[i], End: ends[i], Silent: len(measures[i]) == 0}
		for k, n := range measures[i] {
			if under := highest - n.Step; k == 0 || under < m.Under {
				m.Under = under
			}
		}
		f.Measures = append(f.Measures, m)
	}
	last := lastEnd(ends)
	whole := ends[last] == mod7(t.Notes[len(t.Notes)-1].Step)
	ofBand := t.Kind == strain
	if m := &f.Measures[last]; ofBand && whole && m.Chord == idiom.I && (m.End == 2 || m.End == 4) {
		m.End = 0
	}
	return f, whole && f.Closes() || (ofBand || t.Measures == 8) && staysOpen(&f)
}

// lastEnd reports the last measure where a phrase ends; 0 if none does.
func lastEnd(ends []int) int {
	for i := len(ends) - 1; i > 0; i-- {
		if ends[i] != idiom.None {
			return i
		}
	}
	return 0
}

// staysOpen reports whether a form ends on 2, 5 or 7 over the dominant.
func staysOpen(f *idiom.Form) bool {
	m := f.Measures[len(f.Measures)-1]
	return m.Chord == idiom.V && (m.End == 1 || m.End == 4 || m.End == 6)
}

// fitLine fits the weights of the line, which stay near those that it has.
func (c *Course) fitLine(m *idiom.Meter) {
	model := logLinear{penalty: c.Penalty, prior: make([]float64, m.LineRows()*idiom.Intervals)}
	for i := range model.prior {
		model.prior[i] = float64(m.Weight(i/idiom.Intervals, i%idiom.Intervals-idiom.Span)) / 100
	}
	for _, lessons := range [][]Lesson{c.Lessons, c.More} {
		for _, l := range lessons {
			model.add(m, l)
		}
	}
	for i, w := range model.fit(c.Rounds) {
		m.SetWeight(i/idiom.Intervals, i%idiom.Intervals-idiom.Span, int(math.Round(100*w)))
	}
}

// add adds the notes of a lesson. In another meter the rows of places in the measure are
// left out.
func (l *logLinear) add(m *idiom.Meter, lesson Lesson) {
	for _, n := range notes(lesson.Tune) {
		rows := m.Rows(&n.context)
		kept := make([]int, 0, len(rows))
		for i, row := range rows {
			if lesson.Tune.Measured() == m.Measured && lesson.Tune.Beat() == m.Beat || !idiom.OfMeter(i) {
				kept = append(kept, row)
			}
		}
		weight := lesson.Line
		if !n.fresh {
			weight *= familiar
		}
		l.examples = append(l.examples, example{kept, n.interval + idiom.Span, weight})
	}
}

// A note is one interval of a tune in its context; fresh where its measure neither repeats
// an earlier one nor moves it.
type note struct {
	context  idiom.Context
	interval int
	fresh    bool
}

// notes reports the notes of a tune after the first whose interval is one of those known.
func notes(t *tune.Tune) []note {
	chords, relations := t.Chords(), t.Relations()
	var all []note
	last, turn := 0, 0
	for i := 1; i < len(t.Notes); i++ {
		before, n := t.Notes[i-1], t.Notes[i]
		at := min(max(0, n.Onset/t.Measured()), t.Measures-1)
		interval := n.Step - before.Step
		if interval >= -idiom.Span && interval <= idiom.Span {
			kind := relations[at].Kind
			all = append(all, note{idiom.Context{Step: before.Step, Last: last, Turn: turn, Chord: chords[at],
				Next: chords[min(at+1, t.Measures-1)], Onset: n.Onset - at*t.Measured(), Place: idiom.PlaceOf(at, t.Measures),
				Measured: t.Measured(), Beat: t.Beat(), Held: before.Ticks, Ticks: n.Ticks, Minor: t.Minor},
				interval, n.Onset < 0 || kind != idiom.Same && kind != idiom.Sequence})
		}
		turn, last = cmp.Compare(last, 0), max(-idiom.Memory, min(idiom.Memory, interval))
	}
	return all
}

// Bits reports how many bits a new note of the tunes takes by what was learned, and how many
// notes these are: less is better.
func Bits(m *idiom.Meter, tunes []*tune.Tune) (bits float64, count int) {
	for _, t := range tunes {
		for _, n := range notes(t) {
			if n.fresh {
				bits -= math.Log2(max(1e-12, m.IntervalChances(&n.context)[n.interval+idiom.Span]))
				count++
			}
		}
	}
	return bits / float64(max(1, count)), count
}

func mod7(step int) int { return ((step % 7) + 7) % 7 }
