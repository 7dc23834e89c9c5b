package band

import (
	"onward/midi/timeline"
	"onward/rhythm"
)

// How drums strike: times in microseconds, loudness in percent of a plain stroke.
const (
	softShare  = 65
	flamMicros = 28_000  // the small note ahead of a flam
	rollMicros = 62_000  // between the strokes of a roll
	rollFrom   = 60      // where a roll begins
	rollTo     = 92      // and what it grows to
	drumMicros = 120_000 // how long a drum note lasts; what sounds is the drum's affair
)

// drums strikes one drum.
func (p *player) drums() []timeline.Tone {
	var tones []timeline.Tone
	for _, s := range p.strokes {
		percent := p.part.Level
		if s.Accent {
			percent = accented(percent)
		}
		switch s.Play {
		case 'r':
			tones = append(tones, p.roll(s)...)
		case 'f':
			tones = append(tones, p.hit(s.at-rhythm.Offset(p.ticks(s.at, flamMicros)), percent*softShare/100), p.hit(s.at, percent))
		case 'o':
			tones = append(tones, p.hit(s.at, percent*softShare/100))
		default:
			tones = append(tones, p.hit(s.at, percent))
		}
	}
	return tones
}

// hit is one stroke; what lies ahead of the take moves to its start.
func (p *player) hit(at rhythm.Offset, percent int) timeline.Tone {
	at = max(0, at)
	hold := min(p.ticks(at, drumMicros), max(1, p.t.l.End.Since(at)))
	return timeline.Tone{At: at, Hold: hold, Key: uint8(p.part.Key), Velocity: p.t.velocity(at, percent)}
}

// roll fills a stroke's time with even soft strokes that grow to the end.
func (p *player) roll(s stroke) []timeline.Tone {
	each := p.ticks(s.at, rollMicros)
	n := max(2, int((s.hold+each/2)/each))
	tones := make([]timeline.Tone, n)
	for i := range tones {
		at := s.at.Add(s.hold * rhythm.Duration(i) / rhythm.Duration(n))
		tones[i] = p.hit(at, p.part.Level*(rollFrom+(rollTo-rollFrom)*i/n)/100)
	}
	return tones
}

// ticks reports how many ticks so many microseconds last at a point of the take.
func (p *player) ticks(at rhythm.Offset, micros int) rhythm.Duration {
	return rhythm.Duration(micros) * rhythm.Quarter / rhythm.Duration(p.t.l.MicrosPerQuarter(at))
}
