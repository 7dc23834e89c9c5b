package compose

import (
	"math/rand/v2"
	"slices"

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
	for _, s := range p.sections {
		m := &part.Measures[first]
		m.Dynamics = append(m.Dynamics, score.Dynamic{Mark: s.Dynamic})
		if s.Again != "" && s.Again != s.Dynamic && s.Repeat {
			back := &part.Measures[first+s.leads()] // where the repeat goes back to, behind an upbeat
			back.Words = joinWords(back.Words, "second time "+s.Again)
		}
		first += len(p.onPage(s))
	}
	if p.bounds.Marks["hairpin"] {
		p.hairpins(rng, part, notes)
	}
}

// hairpinsASection is how many phrases of a section swell at most.
const hairpinsASection = 2

// hairpins lets some phrases swell to their peaks: those of a section that go highest.
func (p *piece) hairpins(rng *rand.Rand, part *score.Part, notes []*placedNote) {
	type span struct{ from, to, peak int }
	var spans []span
	flush := func() {
		slices.SortStableFunc(spans, func(a, b span) int { return b.peak - a.peak })
		for _, sp := range spans[:min(len(spans), hairpinsASection)] {
			if rng.Float64() < p.req.Style.Marks.Hairpin {
				p.hairpin(part, notes, sp.from, sp.to)
			}
		}
		spans = spans[:0]
	}
	for i := 0; i < len(notes); {
		sp := span{from: i, to: i}
		for sp.to < len(notes) && notes[sp.to].phrase == notes[i].phrase && notes[sp.to].section == notes[i].section {
			sp.peak = max(sp.peak, notes[sp.to].first.Pitch.MIDI())
			sp.to++
		}
		if i > 0 && notes[i-1].section != notes[i].section {
			flush()
		}
		spans = append(spans, sp)
		i = sp.to
	}
	flush()
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// hairpin lets the phrase of notes[from:to] swell to its peak. Legato, and where the
// second time has another dynamic that a letter would fight, it fades again; else, or
// where there is no time for that, the peak is a step louder and the next phrase as before.
func (p *piece) hairpin(part *score.Part, notes []*placedNote, from, to int) {
	phrase := notes[from:to]
	top := p.top(phrase)
	start, after, end := p.swell(phrase, top)
	s := phrase[top].section
	if start == top || phrase[top].bar == s.ending {
		return
	}
	again := s.Repeat && s.Again != "" && s.Again != s.Dynamic
	if (p.req.Style.Marks.Legato || again) && after < end {
		put(part, phrase[start], score.Crescendo)
		put(part, phrase[top], score.HairpinStop)
		put(part, phrase[after], score.Diminuendo)
		put(part, phrase[end], score.HairpinStop)
		return
	}
	measure := int64(p.meter.Measure())
	late, short := phrase[len(phrase)-1].end-phrase[top].start < measure, phrase[top].start-phrase[start].start < measure
	if again || late || short || to == len(notes) || notes[to].section != s {
		return
	}
	louder := loudness(s.Dynamic) + 1
	if louder == len(dynamicMarks) || dynamicMarks[louder] == "ff" && !p.bounds.Marks["extremes"] {
		return
	}
	put(part, phrase[start], score.Crescendo)
	put(part, phrase[top], score.HairpinStop)
	mark(part, phrase[top], dynamicMarks[louder])
	mark(part, notes[to], s.Dynamic)
}

// nearTop is how many semitones below a phrase's highest note its peak may be, to fall on
// a beat.
const nearTop = 2

// top reports which note of a phrase is its peak: the highest that starts on a beat, or
// where that is well below the highest of all, this one.
func (p *piece) top(phrase []*placedNote) int {
	top, onBeat := 0, -1
	for i, n := range phrase {
		key := n.first.Pitch.MIDI()
		if key > phrase[top].first.Pitch.MIDI() {
			top = i
		}
		if p.meter.OnBeat(n.at) && (onBeat < 0 || key > phrase[onBeat].first.Pitch.MIDI()) {
			onBeat = i
		}
	}
	if onBeat >= 0 && phrase[onBeat].first.Pitch.MIDI() >= phrase[top].first.Pitch.MIDI()-nearTop {
		return onBeat
	}
	return top
}

// swell reports where a phrase may begin to swell towards its top, at most two measures
// ahead, and from where to where it may fade after it, from at most two measures behind it
// on and for at most two, all clear of breaths and rests. Where there is no time for it, or
// the line goes higher later than that, start is top and after is end.
func (p *piece) swell(phrase []*placedNote, top int) (start, after, end int) {
	two := 2 * int64(p.meter.Measure())
	least := min(2*int64(p.meter.Beat()), int64(p.meter.Measure()))
	parted := func(i int) bool { return phrase[i].last.Breath || phrase[i+1].start > phrase[i].end }
	start = top
	for start > 0 && !parted(start-1) && phrase[top].start-phrase[start-1].start <= two {
		start--
	}
	if phrase[top].start-phrase[start].start < least || top-start < 2 {
		start = top
	}
	end = top
	for end+1 < len(phrase) && !parted(end) {
		end++
	}
	after = top
	for i := top; i <= end; i++ { // behind all that is higher
		if phrase[i].first.Pitch.MIDI() > phrase[top].first.Pitch.MIDI() {
			after = i
		}
	}
	after = min(after+1, end)
	for after+1 < end && phrase[end].start-phrase[after].start > two && phrase[after+1].start-phrase[top].start <= two {
		after++
	}
	for end > after && phrase[end].start-phrase[after].start > two {
		end--
	}
	if phrase[after].start-phrase[top].start > two || phrase[end].start-phrase[after].start < least || end-after < 2 {
		after = end
	}
	return start, after, end
}

// mark writes a dynamic under a note, unless there is one.
func mark(part *score.Part, n *placedNote, dynamic string) {
	m := &part.Measures[n.measure]
	for _, d := range m.Dynamics {
		if d.At == n.first.At {
			return
		}
	}
	m.Dynamics = append(m.Dynamics, score.Dynamic{At: n.first.At, Mark: dynamic})
	slices.SortStableFunc(m.Dynamics, func(a, b score.Dynamic) int { return int(a.At - b.At) })
}

// put opens or stops a hairpin at a note.
func put(part *score.Part, n *placedNote, k score.HairpinKind) {
	m := &part.Measures[n.measure]
	if k == score.HairpinStop && n.first.At == 0 && n.measure > 0 { // before the barline, not behind it
		m = &part.Measures[n.measure-1]
		m.Hairpins = append(m.Hairpins, score.Hairpin{At: rhythm.Offset(m.Length), Kind: k})
		return
	}
	m.Hairpins = append(m.Hairpins, score.Hairpin{At: n.first.At, Kind: k})
}

// short reports values that a march player detaches: an eighth or less.
func short(d rhythm.Duration) bool { return d <= rhythm.Eighth }
