package ladder

import (
	"strings"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// measured is what rating looks at in a part.
type measured struct {
	part    *score.Part
	in      *theory.Instrument
	onsets  []figure.Onset
	weights []int // of each measure, in hundredths

	loads   []float64
	lengths []rhythm.Duration
	written []theory.Key // of each measure
	keys    []theory.Key // the same, concert
	meters  []rhythm.Meter

	levels  []int // of each note, its figure's
	leaps   []int // of each note but the first, in notes of the scale: 2 is a second
	pitches []theory.Pitch
	named   int // notes in figures that the catalogue has
}

// measure looks at a part figure by figure. Notes in no figure are taken one by one.
func measure(part *score.Part, in *theory.Instrument, cat *figure.Catalogue, v *figure.Vocabulary) *measured {
	m := &measured{part: part, in: in, onsets: figure.Onsets(part), weights: make([]int, len(part.Measures))}
	seconds := m.time()
	next := 0
	for _, f := range cat.RecognizeIn(part, v) {
		for ; next < f.First; next++ {
			m.take(next, Taken{Notes: 1})
		}
		t := Taken{Cell: cat.Cell(f.Cell), Notes: f.Notes}
		if f.Shape != "" {
			t.Shape, t.Known = cat.Shape(f.Shape), v == nil || v.Knows(f.Figure)
			m.named += f.Notes
		}
		m.take(f.First, t)
		next = f.First + f.Notes
	}
	for ; next < len(m.onsets); next++ {
		m.take(next, Taken{Notes: 1})
	}
	for i, w := range m.weights {
		m.loads = append(m.loads, float64(w)/100/seconds[i])
	}
	return m
}

// take weighs one figure, which begins at the onset given.
func (m *measured) take(first int, t Taken) {
	in := m.onsets[first].Measure
	k := m.written[in]
	t.Minor, t.Signature = k.Mode == theory.Minor, max(k.Fifths, -k.Fifths)
	for i := first; i < first+t.Notes; i++ {
		n := &m.part.Measures[m.onsets[i].Measure].Notes[m.onsets[i].Note]
		if n.Accidental == score.Shown {
			t.Accidentals++
		}
		t.Graces += len(n.Grace)
		t.At(n.Pitch, m.in)
		if i > 0 {
			from := m.onsets[i-1].Pitch
			t.Move(from, n.Pitch, m.in)
			steps := n.Pitch.Step() - from.Step()
			m.leaps = append(m.leaps, 1+max(steps, -steps))
		}
		m.pitches = append(m.pitches, n.Pitch)
		m.levels = append(m.levels, t.level())
	}
	m.weights[in] += t.Hundredths()
}

// unmarked is the felt beats a minute at which a part without tempo or word is rated: the
// upper end of what one state asks of its first classes (MSHSAA sight-reading criteria,
// rev. 2002-03: quarter = 88-92).
const unmarked = 92

// usualTempos is what tempo words usually mean, in felt beats a minute: the middle of
// published lists, which differ (Andante 60-108); the fast ones from memory.
var usualTempos = map[string]int{
	"adagio": 71, "andante": 84, "andantino": 88, "moderato": 114, "allegretto": 116, "allegro": 132, "vivace": 160, "presto": 180,
}

// time follows keys, meters and tempo through the part, and reports how many seconds each
// measure lasts.
func (m *measured) time() []float64 {
	key, meter, beats, beat := theory.Key{}, rhythm.Meter{Beats: 4, Unit: 4}, unmarked, rhythm.Duration(0)
	var seconds []float64
	for i := range m.part.Measures {
		ms := &m.part.Measures[i]
		if ms.Key != nil {
			key = *ms.Key
		}
		if ms.Meter != nil {
			meter = *ms.Meter
		}
		for _, word := range strings.Fields(strings.ToLower(ms.Words)) {
			if usual, ok := usualTempos[strings.Trim(word, ".,")]; ok {
				beats, beat = usual, 0
			}
		}
		if ms.Tempo != nil {
			beats, beat = ms.Tempo.BPM, ms.Tempo.Beat.Duration()
		}
		felt := beat
		if felt == 0 { // no note stands beside it: the meter's own beat
			felt = meter.Beat()
		}
		seconds = append(seconds, 60/float64(beats)*float64(ms.Length)/float64(felt))
		m.written, m.keys = append(m.written, key), append(m.keys, key.Transpose(m.in.Sounds))
		m.meters, m.lengths = append(m.meters, meter), append(m.lengths, ms.Length)
	}
	return seconds
}

// level reports the level of the figure: of its shape or its cell, the higher.
func (t Taken) level() int {
	if t.Shape == nil || t.Cell == nil {
		return strangeLevel
	}
	return max(t.Shape.Level, t.Cell.Level)
}
