package band

import (
	"cmp"
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
)

// accented reports how loud an accented stroke is where a plain one has so many percent.
func accented(percent int) int { return percent * 112 / 100 }

// finish makes tones of what a part plays: held, tied and lifted as the part does, out
// of the player's way.
func (p *player) finish(played []sounded) []timeline.Tone {
	var tones []timeline.Tone
	for _, s := range played {
		percent := p.part.Level
		if s.Accent {
			percent = accented(percent)
		}
		tones = append(tones, timeline.Tone{At: s.at, Hold: p.holdOf(s.stroke), Key: uint8(s.key), Velocity: p.t.velocity(s.at, percent)})
	}
	slices.SortStableFunc(tones, func(a, b timeline.Tone) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Key, b.Key))
	})
	if p.part.Breathes {
		tones = p.lift(tones)
	}
	if p.part.Ties {
		tones = p.tie(tones)
	}
	return p.yield(tones)
}

// holdOf is how long a stroke sounds: to the end of its chord where the part rings,
// three quarters where it is detached.
func (p *player) holdOf(s stroke) rhythm.Duration {
	switch {
	case s.final:
		return s.hold
	case p.part.Rings:
		return max(s.hold, p.t.spans[s.span].end.Since(s.at))
	case s.Short:
		return s.hold * 3 / 4
	}
	return s.hold
}

// tie holds a tone on where it is struck again just as it ends, within a phrase.
func (p *player) tie(tones []timeline.Tone) []timeline.Tone {
	breath := map[rhythm.Offset]bool{}
	for i, b := range p.t.bars {
		if i > 0 && p.t.ends(i-1, func(next bar) bool { return next.phrase != p.t.bars[i-1].phrase }) {
			breath[b.At] = true
		}
	}
	last := map[uint8]int{} // where in tied each key was struck last
	var tied []timeline.Tone
	for _, n := range tones {
		if i, ok := last[n.Key]; ok && tied[i].At.Add(tied[i].Hold) == n.At && !breath[n.At] {
			tied[i].Hold += n.Hold
			continue
		}
		last[n.Key] = len(tied)
		tied = append(tied, n)
	}
	return tied
}

// lift ends what would sound into a breath a sixteenth before it, or at three quarters
// if it is shorter than a quarter. A chord that was to go on for half a measure or more
// comes in anew.
func (p *player) lift(tones []timeline.Tone) []timeline.Tone {
	var lifted []timeline.Tone
	for _, n := range tones {
		rest := false // of a tone that a breath has cut
		for _, b := range p.t.breaths {
			end := n.At.Add(n.Hold)
			if b <= n.At || b > end {
				continue
			}
			before := n
			whole := b.Since(n.At)
			before.Hold = max(whole*3/4, whole-rhythm.Sixteenth)
			lifted = append(lifted, before)
			n.At, n.Hold = b, end.Since(b)
			n.Velocity, rest = p.t.velocity(b, p.part.Level), true
		}
		if !rest || p.comesBack(n) {
			lifted = append(lifted, n)
		}
	}
	return lifted
}

// comesBack reports whether what a breath has left of a tone is struck again.
func (p *player) comesBack(n timeline.Tone) bool {
	m, _ := p.t.l.At(n.At)
	return (p.part.Kind == "chords" || p.part.Kind == "bass") && !p.part.Rings && n.Hold >= m.Meter.Beat()
}

// yield takes out what would sound the player's very key: a tone struck on it is left
// out, one held into it ends before.
func (p *player) yield(tones []timeline.Tone) []timeline.Tone {
	var kept []timeline.Tone
	for _, n := range tones {
		clear := true
		for _, m := range p.t.line.between(n.At, n.At.Add(n.Hold)) {
			switch {
			case m.key != int(n.Key):
			case m.at <= n.At:
				clear = false
			default:
				n.Hold = min(n.Hold, m.at.Since(n.At))
			}
		}
		if clear {
			kept = append(kept, n)
		}
	}
	return kept
}
