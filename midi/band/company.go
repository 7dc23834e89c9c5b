package band

import (
	"onward/midi/timeline"
	"onward/theory"
)

// Company is who plays beside the player.
type Company uint8

// Nobody; a second part in the player's own rhythm, in thirds and sixths; or a line of
// its own that moves where the player holds.
const (
	NoCompany Company = iota
	Thirds
	Counter
)

// companyPercent is how loud company is, in percent of the guide: it is beside the
// player, not ahead.
const companyPercent = 80

// companyName is the name of its track.
const companyName = "Company"

// A companion is who plays beside the player, on an instrument like the player's.
type companion struct {
	t         *take
	low, high int             // sounding, MIDI numbers
	notes     []timeline.Tone // the player's, grace notes left out, as the guide plays them
}

func (t *take) newCompanion() *companion {
	c := &companion{t: t}
	for _, n := range t.guide() {
		if !n.Grace {
			c.notes = append(c.notes, n)
		}
	}
	c.low, c.high = t.companyRange()
	return c
}

// companyRange is the widest range of the player's instrument, of which an unskilled
// player's page has a part; of an unknown one, a sixth around the player's line.
func (t *take) companyRange() (low, high int) {
	in := &t.r.Request.Instrument
	if in.ID != "" {
		for b := theory.Advanced; b <= theory.Beyond; b++ {
			r := in.Ranges[b].Transpose(in.Sounds)
			if low == 0 {
				low, high = r.Low.MIDI(), r.High.MIDI()
			}
			low, high = min(low, r.Low.MIDI()), max(high, r.High.MIDI())
		}
		return low, high
	}
	low, high = 127, 0
	for _, n := range t.line {
		low, high = min(low, n.key), max(high, n.key)
	}
	return max(0, low-9), min(127, high+9)
}

// addCompany adds who plays beside the player.
func (t *take) addCompany(out *desk, who Company) {
	c := t.newCompanion()
	var tones []timeline.Tone
	switch who {
	case Thirds:
		tones = c.thirds()
	case Counter:
		tones = c.counter()
	default:
		return
	}
	out.add(companyName, uint8(t.r.Score.Parts[0].Program), t.rested(tones, companyPercent))
}

// softer is the velocity of company where the guide has v.
func softer(v uint8) uint8 { return max(1, uint8(int(v)*companyPercent/100)) }

// phraseEnds reports for each note of the player's whether it is the last before a new
// phrase or the end of a time through.
func (c *companion) phraseEnds() []bool {
	ends := make([]bool, len(c.notes))
	now := 0
	bars := make([]int, len(c.notes))
	for i, n := range c.notes {
		for now+1 < len(c.t.bars) && c.t.bars[now+1].At <= n.At {
			now++
		}
		bars[i] = now
	}
	for i := range c.notes {
		if i+1 == len(c.notes) {
			ends[i] = true
			break
		}
		for b := bars[i]; b < bars[i+1]; b++ {
			at := c.t.bars[b]
			if c.t.ends(b, func(next bar) bool { return next.phrase != at.phrase }) {
				ends[i] = true
			}
		}
	}
	return ends
}
