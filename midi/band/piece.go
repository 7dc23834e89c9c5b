package band

import (
	"cmp"
	"fmt"
	"slices"

	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// PieceOptions say how a printed piece is accompanied.
type PieceOptions struct {
	Options // Rubato, DropOut and Company do not count: a piece has neither phrases nor seed
	// Tempo is in felt beats a minute at the start, 0 for the piece's own; later tempos
	// keep their proportion to it.
	Tempo int
	// Style is whose band plays where the piece has no other part.
	Style *styles.Sheet
}

// Accompany makes the band of a printed piece for the player of one of its parts, counted
// from 0: the other parts, as they stand there, and the player's with Guide.
//
// Each instrument of a part has a channel of its own, percussion channel 10. Where the
// channels do not suffice instruments of one program share one, then those of one family
// of General MIDI with the program of the first, then all that are left over; the
// count-in's chord has the last.
//
// Where no other part sounds, the band of a style plays to the chord symbols, or to chords
// found by Harmonize.
//
// It fails on a part that is not there and on a piece that no take can hold.
func Accompany(p *musicxml.Piece, part int, opts PieceOptions) (*timeline.Timeline, error) {
	l, err := LayOutPiece(p, part, opts)
	if err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	out := desk{line: l.Timeline()}
	if Alone(p, part) && opts.Style != nil {
		err = out.addHarmony(p, part, l, opts)
	} else {
		err = out.addParts(p, part, opts)
	}
	if err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	out.announce(l, opts.Click, func(at rhythm.Offset, percent int) uint8 {
		return clamp(int(l.Level(at))*percent/100, 1, 127)
	})
	out.line.Events = timeline.Merge(out.voices...)
	if err := out.line.Check(); err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	return out.line, nil
}

// Alone reports whether no other part of the piece sounds.
func Alone(p *musicxml.Piece, part int) bool {
	for i := range p.Parts {
		if i != part && p.Parts[i].Sounding() > 0 {
			return false
		}
	}
	return true
}

// addParts adds the printed parts.
func (d *desk) addParts(p *musicxml.Piece, part int, opts PieceOptions) error {
	channels := seatInstruments(p, part, opts.Guide)
	for i := range p.Parts {
		if i == part && !opts.Guide {
			continue
		}
		if err := d.addPart(p, i, opts, channels[i]); err != nil {
			return err
		}
	}
	d.channel = chordChannel
	return nil
}

// addHarmony adds the band of a style to the one line of a piece, and the line with Guide.
func (d *desk) addHarmony(p *musicxml.Piece, part int, l *timeline.Layout, opts PieceOptions) error {
	var melody []timeline.Tone
	for _, n := range sing(&p.Parts[part], l) {
		melody = append(melody, n.Tone)
	}
	slices.SortStableFunc(melody, func(a, b timeline.Tone) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Key, b.Key)) })
	t := takeOf(readOf(p, part, l, opts), l, melody)
	if err := t.seat(d); err != nil {
		return err
	}
	if opts.Guide {
		in := p.Parts[part].Instruments[0]
		d.add(p.Parts[part].Name, uint8(in.Program), melody)
	}
	return nil
}

// mostParts leaves tracks for the clicks and the chord.
const mostParts = 200

// LayOutPiece lays the measures of a piece out as they are played, with the keys and the
// dynamics of one part, counted from 0.
func LayOutPiece(p *musicxml.Piece, part int, opts PieceOptions) (*timeline.Layout, error) {
	switch {
	case part < 0 || part >= len(p.Parts):
		return nil, fmt.Errorf("part %d of %d", part+1, len(p.Parts))
	case len(p.Parts) > mostParts:
		return nil, fmt.Errorf("%d parts; a take holds %d", len(p.Parts), mostParts)
	}
	percent := opts.Percent
	if percent == 0 {
		percent = 100
	}
	page := pageOf(p, part, opts.Tempo)
	played := make([]timeline.PlayedMeasure, len(p.Order))
	for i, o := range p.Order {
		played[i] = page[o.Index]
		played[i].Pass = o.Pass
	}
	return timeline.LayOutPlayed(frame(p, part), played, opts.CountIn, percent)
}

// frame is a part without its notes: what a layout asks of it.
func frame(p *musicxml.Piece, part int) *score.Part {
	of := &p.Parts[part]
	f := &score.Part{Name: of.Name, Measures: make([]score.Measure, len(p.Measures))}
	for i, m := range p.Measures {
		f.Measures[i] = score.Measure{Number: m.Number, Length: m.Length, Rehearsal: m.Rehearsal, Dynamics: of.Dynamics[i], Hairpins: of.Hairpins[i]}
	}
	return f
}

// pageOf settles what holds in each measure as printed. beats is PieceOptions.Tempo.
func pageOf(p *musicxml.Piece, part, beats int) []timeline.PlayedMeasure {
	first := p.Measures[0]
	now := first.Tempos[0].MicrosPerQuarter
	wanted := now
	if beats > 0 {
		minute := int64(beats) * int64(first.Meter.Beat()) // in ticks
		wanted = int((60_000_000*int64(rhythm.Quarter) + minute/2) / minute)
	}
	scaled := func(micros, from int) int { return int((int64(micros)*int64(wanted) + int64(from)/2) / int64(from)) }
	from := now
	keys := concertKeys(p, part)
	page := make([]timeline.PlayedMeasure, len(p.Measures))
	for i, m := range p.Measures {
		b := timeline.PlayedMeasure{Index: i, Number: m.Number, Length: m.Length, Meter: m.Meter, Key: keys[i]}
		if full := m.Meter.Measure(); m.Length < full && (i == 0 || m.Implicit || completes(page[i-1], b)) {
			b.Lead = full - m.Length
		}
		for _, t := range m.Tempos {
			if t.At == 0 {
				now = t.MicrosPerQuarter
			}
		}
		b.MicrosPerQuarter = scaled(now, from)
		for _, t := range m.Tempos {
			if now = t.MicrosPerQuarter; t.At > 0 && t.At < rhythm.Offset(m.Length) {
				b.Tempos = append(b.Tempos, timeline.Tempo{At: t.At, MicrosPerQuarter: scaled(now, from)})
			}
		}
		page[i] = b
	}
	return page
}

// completes reports whether b ends the measure that a, cut short, began.
func completes(a, b timeline.PlayedMeasure) bool {
	full := b.Meter.Measure()
	return a.Lead == 0 && a.Length < full && a.Length+b.Length == full
}

// concertKeys are the keys of the part's measures. Where the file does not tell major from
// minor, the keys with the last signature are minor if the lowest note at the end is the
// tonic of that.
func concertKeys(p *musicxml.Piece, part int) []theory.Key {
	of := &p.Parts[part]
	for i := range p.Parts { // percussion has no key of its own
		if !of.Instruments[0].Percussion {
			break
		}
		of = &p.Parts[i]
	}
	keys := append([]theory.Key(nil), of.Keys...)
	last := keys[len(keys)-1]
	minor := theory.Key{Fifths: last.Fifths, Mode: theory.Minor}
	if bass, ok := lastBass(p); !of.Moded && ok && bass%12 == minor.Tonic().Chroma() {
		for i := range keys {
			if keys[i].Fifths == minor.Fifths {
				keys[i].Mode = theory.Minor
			}
		}
	}
	return keys
}

// lastBass is the lowest of the notes that end the piece.
func lastBass(p *musicxml.Piece) (key int, ok bool) {
	for i := len(p.Order) - 1; i >= 0; i-- {
		var last rhythm.Offset
		for k := range p.Parts {
			of := &p.Parts[k]
			for _, n := range of.Notes[p.Order[i].Index] {
				if n.Grace || of.Instruments[n.Instrument].Percussion {
					continue
				}
				if !ok || n.At > last || n.At == last && int(n.Key) < key {
					last, key, ok = n.At, int(n.Key), true
				}
			}
		}
		if ok {
			return key, true
		}
	}
	return 0, false
}
