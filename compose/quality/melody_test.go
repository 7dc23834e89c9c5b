package quality_test

import (
	"fmt"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A tone is one sounding note of a melody: ties merged, grace notes dropped.
type tone struct {
	pitch   theory.Pitch // written
	measure int          // index in the part
	at      rhythm.Offset
	start   int64 // ticks from the start of the page
	length  rhythm.Duration
	meter   rhythm.Meter
	key     theory.Key
}

// end reports when the tone stops, in ticks from the start of the page.
func (t tone) end() int64 { return t.start + int64(t.length) }

// A gauged measure is a measure with what the figures ask of it.
type gauged struct {
	start  int64 // ticks from the start of the page
	length rhythm.Duration
	meter  rhythm.Meter
	pickup bool
	rests  bool // a rest stands in it
	held   bool // its first sound is tied from the measure before
	tones  []int
	sounds bool // anything but rests stands in it
}

// A melody is a part as the reference figures see it: in the order of the page, repeats
// not unfolded.
type melody struct {
	tones    []tone
	measures []gauged
	key      theory.Key // at its end
}

// melodyOf reads a part's melody.
func melodyOf(p *score.Part) *melody {
	m := &melody{}
	start := int64(0)
	held := false
	for i := range p.Measures {
		bar := &p.Measures[i]
		key, meter, _ := p.At(i)
		g := gauged{start: start, length: bar.Length, meter: meter, pickup: i == 0 && bar.Length < meter.Measure()}
		missing := rhythm.Duration(0)
		if bar.Implicit && bar.Length < meter.Measure() {
			missing = meter.Measure() - bar.Length
		}
		for j, n := range bar.Notes {
			last := len(m.tones) - 1
			switch {
			case n.Rest:
				g.rests = true
			case n.TieStop && held && m.tones[last].pitch.MIDI() == n.Pitch.MIDI():
				m.tones[last].length += n.Duration(bar)
				g.held = g.held || j == 0
				g.sounds = true
			default:
				g.tones = append(g.tones, len(m.tones))
				g.sounds = true
				m.tones = append(m.tones, tone{n.Pitch, i, n.At.Add(missing), start + int64(n.At), n.Duration(bar), meter, key})
			}
			held = !n.Rest && n.TieStart
		}
		m.measures = append(m.measures, g)
		m.key = key
		start += int64(bar.Length)
	}
	return m
}

// semitones reports the intervals between consecutive tones.
func (m *melody) semitones() []int {
	var out []int
	for i := 1; i < len(m.tones); i++ {
		out = append(out, m.tones[i].pitch.MIDI()-m.tones[i-1].pitch.MIDI())
	}
	return out
}

// quarters spells a duration in quarters as the reference file does: "1/2", "3".
func quarters(d rhythm.Duration) string {
	a, b := int64(d), int64(rhythm.Quarter)
	for x, y := a, b; ; x, y = y, x%y {
		if y == 0 {
			a, b = a/x, b/x
			break
		}
	}
	if b == 1 {
		return fmt.Sprint(a)
	}
	return fmt.Sprintf("%d/%d", a, b)
}

// fullRhythm spells the rhythm of a measure that notes fill from barline to barline,
// each cut off at the barline; "" where a rest, a tie from before or a short measure
// makes it none.
func (m *melody) fullRhythm(i int) string {
	g := &m.measures[i]
	if g.rests || g.held || len(g.tones) == 0 || g.length != g.meter.Measure() {
		return ""
	}
	var words []string
	for k, t := range g.tones {
		end := g.start + int64(g.length)
		if k+1 < len(g.tones) {
			end = m.tones[g.tones[k+1]].start
		}
		words = append(words, quarters(rhythm.Duration(end-m.tones[t].start)))
	}
	return strings.Join(words, " ")
}

// placed spells where the tones of a measure begin and how long each lasts in all.
func (m *melody) placed(i int) string {
	var b strings.Builder
	for _, t := range m.measures[i].tones {
		fmt.Fprintf(&b, "%d:%d ", m.tones[t].at, m.tones[t].length)
	}
	return b.String()
}

// onsets spells where the tones of a measure begin, and with intervals or pitches what
// they are: three ways in which a measure can be another's like.
func (m *melody) onsets(i int) (onsets, shape, pitches string) {
	var a, b, c strings.Builder
	for k, t := range m.measures[i].tones {
		fmt.Fprintf(&a, "%d ", m.tones[t].at)
		fmt.Fprintf(&c, "%d:%d ", m.tones[t].at, m.tones[t].pitch.MIDI())
		if k == 0 {
			fmt.Fprintf(&b, "%d ", m.tones[t].at)
			continue
		}
		fmt.Fprintf(&b, "%d:%+d ", m.tones[t].at, m.tones[t].pitch.MIDI()-m.tones[t-1].pitch.MIDI())
	}
	return a.String(), b.String(), c.String()
}

// meterName names a meter as the reference file does.
func meterName(m rhythm.Meter) string { return fmt.Sprintf("%d/%d", m.Beats, m.Unit) }
