package survey

import (
	"fmt"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

const (
	startsDrilled = 8  // notes of the key that a drilled figure begins on
	slowPercent   = 60 // of the part's tempo, the first time
)

// Drills makes a page on which each of the figures goes through the part's key; nil where
// none has room.
func (s *Survey) Drills(figures []Figure, in theory.Instrument, cat *figure.Catalogue) *score.Score {
	key, _, _ := s.Own.At(0)
	key.Mode = s.Writing.Mode
	d := DrillPage{Title: "Drills for " + s.Title, Subtitle: fmt.Sprintf("the figures of %s, through %s", s.Part, key),
		Key: key, Instrument: in, Room: s.room(in), BPM: s.Tempo.BPM}
	var all []Drilled
	for _, f := range figures {
		words := fmt.Sprintf("%s (measure %s)", f.Words, Stretch{f.Measures[0], f.Measures[0]})
		all = append(all, Drilled{f.Figure, words, s.meterOf(f.Figure)})
	}
	return d.Of(all, cat)
}

// room is the range that drills keep to: the intermediate bracket, and what the part asks.
func (s *Survey) room(in theory.Instrument) [2]int {
	r := in.Ranges[theory.Intermediate]
	room := [2]int{r.Low.MIDI(), r.High.MIDI()}
	for _, o := range figure.Onsets(s.Own) {
		room[0], room[1] = min(room[0], o.Pitch.MIDI()), max(room[1], o.Pitch.MIDI())
	}
	return room
}

// A DrillPage is where drills are written.
type DrillPage struct {
	Title, Subtitle string
	Key             theory.Key // written
	Instrument      theory.Instrument
	Room            [2]int // the lowest and the highest note, as MIDI numbers, written
	BPM             int    // the tempo aimed at, in felt beats a minute
}

// A Drilled is a figure to be drilled, with its words at the head of its line.
type Drilled struct {
	figure.Figure
	Words string
	Meter rhythm.Meter // of its measures
}

// Of makes a page on which each of the figures goes through the key: up the key slowly,
// then down it in tempo, each ending on the tonic. Figures that the key and the range have
// no room for are left out; nil if that leaves none.
func (p *DrillPage) Of(figures []Drilled, cat *figure.Catalogue) *score.Score {
	in := &p.Instrument
	d := drillPage{DrillPage: p}
	d.part = score.Part{Name: in.Name, Sounds: in.Sounds, Program: in.Program}
	for _, f := range figures {
		d.figure(f, cat)
	}
	if len(d.part.Measures) == 0 {
		return nil
	}
	first, last := &d.part.Measures[0], &d.part.Measures[len(d.part.Measures)-1]
	first.Key, first.Clef = &p.Key, &in.Clef
	last.DoubleBar, last.FinalBar = false, true
	score.SetTuplets(&d.part)
	score.SetBeams(&d.part)
	score.SetAccidentals(&d.part)
	return &score.Score{Title: p.Title, Subtitle: p.Subtitle, Parts: []score.Part{d.part}}
}

// A drillPage is a page of drills in the making.
type drillPage struct {
	*DrillPage
	part  score.Part
	meter rhythm.Meter
	count int
}

// figure adds both ways of one figure.
func (d *drillPage) figure(f Drilled, cat *figure.Catalogue) {
	shape, cell := cat.Shape(f.Shape), cat.Cell(f.Cell)
	if shape == nil || cell == nil {
		return
	}
	lines := d.sequence(shape)
	if len(lines) == 0 || cell.Span > f.Meter.Measure() {
		return
	}
	d.count++
	slow := max(20, d.BPM*slowPercent/100)
	words := fmt.Sprintf("%d. %s", d.count, f.Words)
	d.way(lines, cell, f.Meter, words, score.Tempo{Beat: f.Meter.BeatValue(), BPM: min(slow, 300), Word: "slowly"})
	for i, j := 0, len(lines)-1; i < j; i, j = i+1, j-1 {
		lines[i], lines[j] = lines[j], lines[i]
	}
	d.way(lines, cell, f.Meter, "", score.Tempo{Beat: f.Meter.BeatValue(), BPM: max(20, min(d.BPM, 300)), Word: "in tempo"})
}

// meterOf reports the meter that the figure first stands in.
func (s *Survey) meterOf(f figure.Figure) rhythm.Meter {
	for _, found := range s.Found {
		if found.Figure == f {
			_, meter, _ := s.Page.At(found.Measure)
			return meter
		}
	}
	return s.Beat
}

// sequence lists the shape from one note of the key after the other, upward from a tonic
// where there is room.
func (d *drillPage) sequence(shape *figure.Shape) [][]theory.Pitch {
	var all [][]theory.Pitch
	chords := d.chords()
	home := -1
	for step := 0; step < 70; step++ {
		start := d.Key.At(step)
		if start.MIDI() < d.Room[0] || start.MIDI() > d.Room[1] {
			continue
		}
		pitches := d.realize(shape, start, chords)
		if pitches == nil {
			continue
		}
		if start.Class() == d.Key.Tonic() && home < 0 {
			home = len(all)
		}
		all = append(all, pitches)
	}
	from := max(0, min(home, len(all)-startsDrilled))
	return all[from:min(len(all), from+startsDrilled)]
}

// realize is the shape from the note, over the first chord that it goes with; nil where
// there is none, or no room.
func (d *drillPage) realize(shape *figure.Shape, start theory.Pitch, chords []theory.Chord) []theory.Pitch {
	for _, c := range chords {
		pitches, ok := shape.Realize(start, figure.Context{Key: d.Key, Chord: c}, nil)
		for _, q := range pitches {
			ok = ok && q.MIDI() >= d.Room[0] && q.MIDI() <= d.Room[1]
		}
		if ok {
			return pitches
		}
	}
	return nil
}

// chords lists the chords of the key, triads ahead of sevenths.
func (d *drillPage) chords() []theory.Chord {
	var all []theory.Chord
	for q := theory.MajorTriad; q <= theory.MajorSeventhChord; q++ {
		for degree := 1; degree <= 7; degree++ {
			c := theory.Chord{Root: d.Key.Degree(degree), Quality: q}
			own := true
			for _, tone := range c.Tones() {
				own = own && plainIn(d.Key, tone)
			}
			if own {
				all = append(all, c)
			}
		}
	}
	return append(all, d.Key.DominantSeventh())
}

// way adds measures of the cell on the pitches, as many to a measure as go in, and the
// tonic at the end.
func (d *drillPage) way(lines [][]theory.Pitch, cell *rhythm.Cell, meter rhythm.Meter, words string, tempo score.Tempo) {
	each := int(meter.Measure() / cell.Span)
	for i := 0; i < len(lines); i += each {
		m := d.measure(meter)
		if i == 0 {
			m.Words, m.Tempo, m.NewSystem = words, &tempo, len(d.part.Measures) > 1
		}
		at := rhythm.Offset(0)
		for _, pitches := range lines[i:min(len(lines), i+each)] {
			at = lay(m, at, cell, pitches)
		}
		fill(m, at, meter)
	}
	m := d.measure(meter)
	for _, v := range rhythm.Spell(0, meter.Measure(), meter) {
		m.Notes = append(m.Notes, score.Note{At: end(m), Value: v, Pitch: d.tonic(lines[len(lines)-1])})
	}
	for i := range m.Notes {
		m.Notes[i].TieStart, m.Notes[i].TieStop = i+1 < len(m.Notes), i > 0
	}
	m.DoubleBar = true
}

// measure adds an empty measure.
func (d *drillPage) measure(meter rhythm.Meter) *score.Measure {
	m := score.Measure{Number: len(d.part.Measures) + 1, Length: meter.Measure()}
	if meter != d.meter {
		d.meter, m.Meter = meter, &meter
	}
	d.part.Measures = append(d.part.Measures, m)
	return &d.part.Measures[len(d.part.Measures)-1]
}

// lay writes the cell from at on, and reports where it ends.
func lay(m *score.Measure, at rhythm.Offset, cell *rhythm.Cell, pitches []theory.Pitch) rhythm.Offset {
	next, tied := -1, false
	for _, e := range cell.Events {
		n := score.Note{At: at, Value: e.Value, Rest: e.Rest}
		if !e.Rest {
			if !tied {
				next++
			}
			n.Pitch, n.TieStop, n.TieStart = pitches[next], tied, e.Tied
		}
		tied = e.Tied && !e.Rest
		m.Notes = append(m.Notes, n)
		at = at.Add(e.Value.Duration())
	}
	if last := &m.Notes[len(m.Notes)-1]; last.TieStart { // to what the part has after it
		last.TieStart = false
	}
	return at
}

// fill writes rests from at to the end of the measure.
func fill(m *score.Measure, at rhythm.Offset, meter rhythm.Meter) {
	if left := rhythm.Offset(meter.Measure()).Since(at); left > 0 {
		for _, v := range rhythm.SpellRest(at, left, meter) {
			m.Notes = append(m.Notes, score.Note{At: at, Value: v, Rest: true})
			at = at.Add(v.Duration())
		}
	}
}

// end reports where the next note of the measure begins.
func end(m *score.Measure) rhythm.Offset {
	if len(m.Notes) == 0 {
		return 0
	}
	last := m.Notes[len(m.Notes)-1]
	return last.At.Add(last.Value.Duration())
}

// tonic is the tonic nearest to where the pitches end.
func (d *drillPage) tonic(pitches []theory.Pitch) theory.Pitch {
	last := pitches[len(pitches)-1]
	best, least := d.Key.Tonic().In(last.Octave), 99
	for octave := last.Octave - 1; octave <= last.Octave+1; octave++ {
		q := d.Key.Tonic().In(octave)
		if off := max(q.MIDI()-last.MIDI(), last.MIDI()-q.MIDI()); off < least && q.MIDI() >= d.Room[0] && q.MIDI() <= d.Room[1] {
			best, least = q, off
		}
	}
	return best
}
