package timeline

import (
	"fmt"
	"slices"
	"sort"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A PlayedMeasure is one playing of one measure, at its place in the take.
type PlayedMeasure struct {
	Index  int // into the part's measures as written
	Number int // the printed number
	Pass   int // 1 the first time through, 2 on the repeat
	At     rhythm.Offset
	Length rhythm.Duration // a pickup's is shorter than the meter's measure
	// Lead is how much of a full measure lies before a pickup's first note: a beat
	// and a half in 3/4 for a pickup of a beat and a half. 0 in all other measures.
	Lead             rhythm.Duration
	Meter            rhythm.Meter
	Key              theory.Key // concert key
	MicrosPerQuarter int        // the tempo
	// Tempos are the changes of tempo inside the measure, At from its start, in order.
	Tempos []Tempo
}

// End reports where the measure ends.
func (m PlayedMeasure) End() rhythm.Offset { return m.At.Add(m.Length) }

// Offset reports where in the take a point of the measure, as written, comes.
func (m PlayedMeasure) Offset(at rhythm.Offset) rhythm.Offset { return m.At + at }

// A Layout is a part unfolded: the measures in the order they are played, behind
// the count-in. Part must not change afterwards.
type Layout struct {
	Part     *score.Part
	CountIn  CountIn
	Start    rhythm.Offset // where the first measure begins and the count-in ends
	End      rhythm.Offset // where the last measure ends
	Measures []PlayedMeasure

	levels levels
}

// LayOut unfolds the part and lays its measures end to end behind the count-in.
// Until a part says otherwise it stands in 4/4 and C major at a quarter = 120.
//
// It refuses a part without measures, repeats that Unfold refuses, and meters, keys,
// tempos or lengths that no take can hold; the error names part and measure.
func LayOut(p *score.Part, c CountIn) (*Layout, error) { return LayOutAt(p, c, 100) }

// LayOutAt is LayOut at a percentage of the page's tempos, 1 to 400.
func LayOutAt(p *score.Part, c CountIn, percent int) (*Layout, error) {
	order, err := Unfold(p)
	if err != nil {
		return nil, err
	}
	page, err := readPage(p)
	if err != nil {
		return nil, err
	}
	played := make([]PlayedMeasure, len(order))
	for i, o := range order {
		played[i] = page[o.Index]
		played[i].Pass = o.Pass
	}
	return LayOutPlayed(p, played, c, percent)
}

// LayOutPlayed lays measures that are unfolded already behind the count-in, at a percentage
// of their tempos, 1 to 400: At is settled here, all else is taken as it is. Of the part
// only name and, by Index, dynamics, hairpins and rehearsal letters count, and its notes
// for Melody.
func LayOutPlayed(p *score.Part, played []PlayedMeasure, c CountIn, percent int) (*Layout, error) {
	if percent < 1 || percent > 400 {
		return nil, fmt.Errorf("a take at %d %% of the page's tempo: write 1 to 400", percent)
	}
	if len(played) == 0 {
		return nil, fmt.Errorf("part %q: no measures", p.Name)
	}
	l := &Layout{Part: p}
	for _, m := range played {
		if err := m.pace(percent); err != nil {
			return nil, fmt.Errorf("part %q, measure %d: %w", p.Name, m.Number, err)
		}
		l.Measures = append(l.Measures, m)
	}
	var err error
	if l.CountIn, err = c.settled(l.Measures[0]); err != nil {
		return nil, err
	}
	l.Start = rhythm.Offset(0).Add(l.CountIn.length(l.Measures[0]))
	at := l.Start
	for i := range l.Measures {
		m := &l.Measures[i]
		m.At = at
		if at = m.End(); at > MaxEnd {
			return nil, fmt.Errorf("part %q, measure %d: the take grows too long", p.Name, m.Number)
		}
	}
	l.End = at
	l.levels = readLevels(l)
	return l, nil
}

// pace brings the measure's tempos to a percentage of themselves.
func (m *PlayedMeasure) pace(percent int) (err error) {
	if m.MicrosPerQuarter, err = atPercent(m.MicrosPerQuarter, percent); err != nil {
		return err
	}
	m.Tempos = slices.Clone(m.Tempos)
	for i := range m.Tempos {
		if m.Tempos[i].MicrosPerQuarter, err = atPercent(m.Tempos[i].MicrosPerQuarter, percent); err != nil {
			return err
		}
	}
	return nil
}

// lastMicros is the tempo that the measure ends in.
func (m *PlayedMeasure) lastMicros() int {
	if n := len(m.Tempos); n > 0 {
		return m.Tempos[n-1].MicrosPerQuarter
	}
	return m.MicrosPerQuarter
}

// readPage settles what holds in each measure as written: attributes stay as they
// were in the measure before on the page, on a repeat too.
func readPage(p *score.Part) ([]PlayedMeasure, error) {
	page := make([]PlayedMeasure, len(p.Measures))
	now := PlayedMeasure{
		Meter:            rhythm.Meter{Beats: 4, Unit: 4},
		Key:              theory.Key{}.Transpose(p.Sounds),
		MicrosPerQuarter: defaultMicros,
	}
	for i := range p.Measures {
		m := &p.Measures[i]
		if err := now.read(m, p.Sounds); err != nil {
			return nil, fmt.Errorf("part %q, measure %d: %w", p.Name, m.Number, err)
		}
		now.Index, now.Lead = i, 0
		if i == 0 || m.Implicit || completes(page[i-1], now) {
			now.Lead = max(0, now.Meter.Measure()-now.Length)
		}
		page[i] = now
	}
	return page, nil
}

// completes reports whether b ends the measure that a, cut short, began.
func completes(a, b PlayedMeasure) bool {
	full := b.Meter.Measure()
	return a.Lead == 0 && a.Length < full && a.Length+b.Length == full
}

// read takes over what the measure says anew.
func (m *PlayedMeasure) read(s *score.Measure, sounds theory.Interval) error {
	if s.Meter != nil {
		if !playable(*s.Meter) {
			return fmt.Errorf("meter %d/%d cannot be played", s.Meter.Beats, s.Meter.Unit)
		}
		m.Meter = *s.Meter
	}
	if s.Key != nil {
		if s.Key.Fifths < -7 || s.Key.Fifths > 7 {
			return fmt.Errorf("a key of %d accidentals, more than seven", s.Key.Fifths)
		}
		m.Key = s.Key.Transpose(sounds)
		switch m.Key.Fifths { // as the simpler key that sounds the same
		case 7:
			m.Key.Fifths = -5
		case -7:
			m.Key.Fifths = 5
		}
	}
	if s.Tempo != nil {
		micros, err := microsPerQuarter(*s.Tempo)
		if err != nil {
			return err
		}
		m.MicrosPerQuarter = micros
	}
	m.Number, m.Length = s.Number, s.Length
	if m.Length == 0 {
		m.Length = m.Meter.Measure()
	}
	if m.Length < 0 || rhythm.Offset(m.Length) > MaxEnd {
		return fmt.Errorf("a length of %d ticks cannot be played", m.Length)
	}
	return nil
}

// playable reports whether the meter's measure and beat are whole numbers of ticks.
func playable(m rhythm.Meter) bool {
	if m.Beats < 1 || m.Beats > 255 {
		return false
	}
	switch m.Unit {
	case 1, 2, 4, 8, 16, 32:
		return true
	}
	return false
}

// microsPerQuarter reports the tempo in microseconds to the quarter, to the nearest.
func microsPerQuarter(t score.Tempo) (int, error) {
	if t.BPM < 1 || t.BPM > 1000 || t.Beat.Base < 1 || t.Beat.Duration() <= 0 {
		return 0, fmt.Errorf("tempo %s = %d; write 20 to 300 beats a minute", t.Beat, t.BPM)
	}
	minute := int64(t.BPM) * int64(t.Beat.Duration()) // in ticks
	micros := (60_000_000*int64(rhythm.Quarter) + minute/2) / minute
	if micros < 1 || micros > MaxMicrosPerQuarter {
		return 0, fmt.Errorf("tempo %s = %d is too slow or too fast to be played", t.Beat, t.BPM)
	}
	return int(micros), nil
}

// atPercent reports a tempo in microseconds to the quarter at a percentage of itself, to
// the nearest.
func atPercent(micros, percent int) (int, error) {
	micros = (micros*100 + percent/2) / percent
	if micros < 1 || micros > MaxMicrosPerQuarter {
		return 0, fmt.Errorf("at %d %% its tempo is too slow or too fast to be played", percent)
	}
	return micros, nil
}

// At reports the played measure that the offset falls in; the last one at and after
// the end. It is false in the count-in.
func (l *Layout) At(at rhythm.Offset) (PlayedMeasure, bool) {
	i := sort.Search(len(l.Measures), func(i int) bool { return l.Measures[i].At > at })
	if i == 0 {
		return PlayedMeasure{}, false
	}
	return l.Measures[i-1], true
}

// MicrosPerQuarter reports the tempo at an offset of the take. The count-in goes at
// the first measure's.
func (l *Layout) MicrosPerQuarter(at rhythm.Offset) int {
	if m, ok := l.At(at); ok {
		micros := m.MicrosPerQuarter
		for _, c := range m.Tempos {
			if m.Offset(c.At) <= at {
				micros = c.MicrosPerQuarter
			}
		}
		return micros
	}
	return l.Measures[0].MicrosPerQuarter
}

// Timeline reports the take without its tracks and events: tempos, meters, concert
// keys, felt beats, markers, count-in and end.
func (l *Layout) Timeline() *Timeline {
	t := &Timeline{CountIn: l.Start.Since(0), End: l.End, Beats: l.countInBeats()}
	if l.Start > 0 {
		t.Markers = []Marker{{0, MarkCountIn}, {l.Start, MarkStart}}
	}
	for i, m := range l.Measures {
		at := m.At
		if i == 0 {
			at = 0 // the count-in goes as the first measure does
		}
		before := l.Measures[max(0, i-1)]
		if i == 0 || m.MicrosPerQuarter != before.lastMicros() {
			t.Tempos = append(t.Tempos, Tempo{at, m.MicrosPerQuarter})
		}
		for _, c := range m.Tempos {
			t.Tempos = append(t.Tempos, Tempo{m.Offset(c.At), c.MicrosPerQuarter})
		}
		if i == 0 || m.Meter != before.Meter {
			t.Meters = append(t.Meters, MeterChange{at, m.Meter})
		}
		if i == 0 || m.Key != before.Key {
			t.Keys = append(t.Keys, KeyChange{at, m.Key})
		}
		if letter := l.Part.Measures[m.Index].Rehearsal; letter != "" {
			t.Markers = append(t.Markers, Marker{m.At, letter})
		}
		t.Beats = append(t.Beats, m.beats()...)
	}
	return t
}

// beats reports the felt beats that fall in the measure, those of a pickup counted
// as the last of a full measure.
func (m PlayedMeasure) beats() []Beat {
	var beats []Beat
	beat := m.Meter.Beat()
	of := int((m.Lead + max(m.Length, m.Meter.Measure()-m.Lead) + beat - 1) / beat)
	for i := range of {
		from := rhythm.Duration(i)*beat - m.Lead
		if from < 0 || from >= m.Length {
			continue
		}
		beats = append(beats, Beat{At: m.At.Add(from), Measure: m.Index, Number: m.Number, Pass: m.Pass, Beat: i + 1, Of: of})
	}
	return beats
}

// OffBeats reports the places between the felt beats of the piece, count-in left out:
// halfway, and in compound meters on the last third of the beat, where the band's
// off-beats are.
func (l *Layout) OffBeats() []rhythm.Offset {
	var places []rhythm.Offset
	for _, m := range l.Measures {
		beat := m.Meter.Beat()
		late := beat / 2
		if m.Meter.Compound() {
			late = beat * 2 / 3
		}
		for from := late - m.Lead; from < m.Length; from += beat {
			if from >= 0 {
				places = append(places, m.At.Add(from))
			}
		}
	}
	return places
}
