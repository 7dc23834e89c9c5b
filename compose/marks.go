package compose

import (
	"math/rand/v2"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

var fourthUp = theory.Fourth

// marks writes grace notes, breaths, dynamics and articulation.
func (p *piece) marks(r *Read) {
	rng := stream(p.req.Seed, "marks")
	part := &r.Score.Parts[0]
	notes := p.flat(part)
	p.graces(notes)
	p.breathe(r, notes)
	p.dynamics(rng, part, notes)
	p.articulate(rng, notes)
}

// graces pitches the grace notes: one by itself leans from the side the line comes
// from; several run up the scale into the note.
func (p *piece) graces(notes []*placedNote) {
	for i, n := range notes {
		count := len(n.first.Grace)
		if count == 0 {
			continue
		}
		step := n.first.Pitch.Step()
		from := -count // below
		if i > 0 && notes[i-1].first.Pitch.Step() > step && count == 1 || n.slot.key.At(step-count).MIDI() < p.floor {
			from = 1
		}
		for g := range n.first.Grace {
			q := n.slot.key.At(step + from + g)
			if from > 0 {
				q = n.slot.key.At(step + count - g)
			}
			n.first.Grace[g] = q
		}
		n.first.GraceSlur = true
	}
}

// dynamics writes each section's dynamic, and hairpins to the peaks of phrases.
func (p *piece) dynamics(rng *rand.Rand, part *score.Part, notes []*placedNote) {
	if !p.bounds.Marks["dynamics"] {
		return
	}
	first := 0
	last := ""
	for _, s := range p.sections {
		m := &part.Measures[first]
		if s.Dynamic != last {
			m.Dynamics = append(m.Dynamics, score.Dynamic{Mark: s.Dynamic})
			last = s.Dynamic
		}
		if s.Again != "" && s.Repeat {
			m.Words = joinWords(m.Words, "second time "+s.Again)
		}
		first += s.written()
	}
	if !p.bounds.Marks["hairpin"] {
		return
	}
	for i := 0; i < len(notes); {
		j := i
		for j < len(notes) && notes[j].phrase == notes[i].phrase && notes[j].section == notes[i].section {
			j++
		}
		if rng.Float64() < p.req.Style.Marks.Hairpin {
			p.hairpin(part, notes[i:j])
		}
		i = j
	}
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// hairpin opens towards a phrase's peak and, where the phrase falls away from it,
// closes after it.
func (p *piece) hairpin(part *score.Part, notes []*placedNote) {
	top := 0
	for i, n := range notes {
		if n.first.Pitch.MIDI() > notes[top].first.Pitch.MIDI() {
			top = i
		}
	}
	beat := int64(p.meter.Beat())
	start := 0
	for start < top && notes[top].start-notes[start].start > 2*int64(p.meter.Measure()) {
		start++
	}
	if notes[top].start-notes[start].start < 2*beat || notes[top].bar == p.sections[0].ending {
		return
	}
	put(part, notes[start], score.Crescendo)
	put(part, notes[top], score.HairpinStop)
	end := len(notes) - 1
	if p.req.Style.Marks.Slur < 0.5 || notes[end].start-notes[top].start < 2*beat {
		return
	}
	from := top
	for from+1 < end && notes[end].start-notes[from].start > 2*int64(p.meter.Measure()) {
		from++
	}
	if from == top {
		from++
	}
	if notes[end].start-notes[from].start < beat {
		return
	}
	put(part, notes[from], score.Diminuendo)
	put(part, notes[end], score.HairpinStop)
}

func put(part *score.Part, n *placedNote, k score.HairpinKind) {
	m := &part.Measures[n.measure]
	if k == score.HairpinStop && n.at == 0 && n.measure > 0 { // before the barline, not behind it
		m = &part.Measures[n.measure-1]
		m.Hairpins = append(m.Hairpins, score.Hairpin{At: rhythm.Offset(m.Length), Kind: k})
		return
	}
	m.Hairpins = append(m.Hairpins, score.Hairpin{At: n.at, Kind: k})
}

// short reports values that a march player detaches: an eighth or less.
func short(d rhythm.Duration) bool { return d <= rhythm.Eighth }
