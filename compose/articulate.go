package compose

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"onward/compose/idiom"
	"onward/compose/score"
	"onward/rhythm"
)

// A touch is how a figure is articulated, the same each time that it returns.
type touch struct {
	slurs    [][2]int // first and last note of each slur
	staccato bool     // its short notes that are not slurred
	accent   bool     // its leaning notes
}

// articulate writes slurs, dots, accents and tenuto, figure by figure: a figure that
// returns is touched alike.
func (p *piece) articulate(rng *rand.Rand, notes []*placedNote) {
	touches := map[string]touch{}
	for i := 0; i < len(notes); {
		j := i
		for j < len(notes) && notes[j].slot == notes[i].slot && notes[j].in == notes[i].in+j-i {
			j++
		}
		group := notes[i:j]
		name := group[0].section.Name + "/" + group[0].slot.cell.Name
		t, ok := touches[name]
		if !ok {
			t = p.newTouch(rng, group)
			touches[name] = t
		}
		p.touchGroup(group, t)
		i = j
	}
	p.joinSlurs(rng, notes)
	alike(notes)
	cutSlurs(notes)
	p.lean(rng, notes)
	p.mend(notes)
}

// smoothSlur is the share of groups slurred in a smooth section, a trio's.
const smoothSlur = 0.7

// newTouch draws how a figure is articulated.
func (p *piece) newTouch(rng *rand.Rand, group []*placedNote) touch {
	m := p.req.Style.Marks
	if group[0].section.Character == "smooth" {
		m.Slur, m.Staccato = max(m.Slur, smoothSlur), 0
	}
	var t touch
	t.staccato = p.bounds.Marks["staccato"] && rng.Float64() < m.Staccato
	t.accent = p.bounds.Marks["accent"] && rng.Float64() < m.Accent
	if !p.bounds.Marks["slur"] || len(group) < 2 || rng.Float64() >= m.Slur {
		return t
	}
	last := len(group) - 1
	switch {
	case m.Slur > 0.5 || len(group) == 2:
		t.slurs = [][2]int{{0, last}}
	case len(group) == 4 && rng.IntN(2) == 0: // two slurred, two tongued
		t.slurs = [][2]int{{0, 1}}
	case len(group)%2 == 0 && equal(group) && rng.IntN(3) == 0:
		for i := 0; i < last; i += 2 {
			t.slurs = append(t.slurs, [2]int{i, i + 1})
		}
	case rng.IntN(2) == 0:
		t.slurs = [][2]int{{0, last}}
	default:
		t.slurs = [][2]int{{0, 1}}
	}
	return t
}

// equal reports whether all notes are of one length.
func equal(group []*placedNote) bool {
	for _, n := range group {
		if n.duration() != group[0].duration() {
			return false
		}
	}
	return true
}

// touchGroup writes a figure's touch on its notes: a slur is broken where a note
// repeats, at a rest and at a breath.
func (p *piece) touchGroup(group []*placedNote, t touch) {
	slurred := make([]bool, len(group))
	for _, s := range t.slurs {
		for i := s[0]; i < s[1] && i+1 < len(group); {
			j := i
			for j < s[1] && j+1 < len(group) && joinable(group[j], group[j+1]) {
				j++
			}
			if j > i && (i == s[0] && group[i].slurrable() || p.meter.OnBeat(group[i].at)) { // a slur does not set in on the tail of a repeated note
				group[i].first.SlurStart, group[j].last.SlurStop = true, true
				for k := i; k <= j; k++ {
					slurred[k] = true
				}
			}
			i = j + 1
		}
	}
	for i, n := range group {
		if t.staccato && !slurred[i] && detached(group, slurred, i) {
			n.first.Staccato = true
		}
		if t.accent && !slurred[i] && i == 0 && p.leans(n) {
			n.first.Accent, n.first.Staccato = true, false
		}
	}
}

// detached reports whether a note may take a staccato dot: one of several of the longest
// short value of its figure that is not slurred, with nothing longer between them, so
// that no dot stands alone and sixteenths beside dotted eighths stay plain.
func detached(group []*placedNote, slurred []bool, i int) bool {
	free := func(j int) bool {
		return !slurred[j] && short(group[j].duration()) && group[j].first == group[j].last
	}
	longest := rhythm.Duration(0)
	for j := range group {
		if free(j) {
			longest = max(longest, group[j].duration())
		}
	}
	if !free(i) || group[i].duration() != longest {
		return false
	}
	for _, by := range []int{-1, 1} {
		for j := i + by; j >= 0 && j < len(group) && group[j].duration() <= longest; j += by {
			if free(j) && group[j].duration() == longest {
				return true
			}
		}
	}
	return false
}

// joinable reports whether a slur may pass from one note to the next: not over a rest, a
// breath, a repeated note, into an ending or a new section.
func joinable(a, b *placedNote) bool {
	if a.section != b.section || a.bar != b.bar && (a.bar == a.section.ending || b.bar == b.section.ending) {
		return false
	}
	return a.end == b.start && a.first.Pitch != b.first.Pitch && !a.last.Breath && len(b.first.Grace) == 0
}

// leans reports whether the note bears an accent by itself: syncopated, or long on a
// strong beat.
func (p *piece) leans(n *placedNote) bool {
	if !p.meter.OnBeat(n.at) {
		return n.duration() >= p.meter.Beat()*2/3
	}
	return n.at == 0 && n.duration() > p.meter.Beat() && n.slot.final == "" || n.slot.opens && n.at == 0 && n.duration() >= p.meter.Beat()
}

// alike gives the notes of bars that repeat others the marks of those: of bars that were
// made to, and of those that look the same in one section.
func alike(notes []*placedNote) {
	byBar := map[*bar][]*placedNote{}
	for _, n := range notes {
		byBar[n.bar] = append(byBar[n.bar], n)
	}
	looks := map[string]*bar{}
	for i, n := range notes {
		if i > 0 && notes[i-1].bar == n.bar {
			continue
		}
		source := n.bar.origin()
		if n.section.of != nil && n.section.Character != n.section.of.Character {
			source = n.bar
		}
		if source == n.bar {
			look := n.look(byBar[n.bar])
			if looks[look] == nil {
				looks[look] = n.bar
			}
			source = looks[look]
		}
		mine, its := byBar[n.bar], byBar[source]
		if source == n.bar || len(mine) != len(its) {
			continue
		}
		for j := range mine {
			takeMarks(mine[j].first, its[j].first)
			mine[j].last.SlurStop = its[j].last.SlurStop
		}
	}
}

// origin reports the bar whose notes this one repeats, itself if none.
func (b *bar) origin() *bar {
	for b.Kind == idiom.Same && b.source != nil {
		b = b.source
	}
	return b
}

// look tells bars apart that begin with the note: by section, pitches and values, and by
// whether the bar begins or ends its phrase.
func (n *placedNote) look(bar []*placedNote) string {
	bars := n.section.bars
	first, last := bars[n.phrase.first] == n.bar, bars[n.phrase.first+n.phrase.measures-1] == n.bar
	look := fmt.Sprintf("%s %t %t %t", n.section.Name, first, last, n.bar == n.section.ending)
	for _, n := range bar {
		look += fmt.Sprintf(" %s %d %d", n.first.Pitch, n.at, n.duration())
	}
	return look
}

func takeMarks(to, from *score.Note) {
	to.SlurStart, to.SlurStop = from.SlurStart, from.SlurStop
	to.Staccato, to.Tenuto, to.Accent, to.Marcato = from.Staccato, from.Tenuto, from.Accent, from.Marcato
}

// cutSlurs ends slurs where they may not go on (a breath, a rest, a repeated note, a
// bar copied without its neighbour) and drops those of one note.
func cutSlurs(notes []*placedNote) {
	start := -1
	finish := func(end int) {
		if start >= 0 && end > start {
			notes[start].first.SlurStart, notes[end].last.SlurStop = true, true
		}
		start = -1
	}
	for i, n := range notes {
		begins, ends := n.first.SlurStart, n.last.SlurStop
		n.first.SlurStart, n.last.SlurStop = false, false
		if start >= 0 && !joinable(notes[i-1], n) {
			finish(i - 1)
		}
		if ends && start >= 0 {
			if begins && n.first != n.last { // a tied note cannot end one slur and begin the next
				finish(i - 1)
			} else {
				finish(i)
			}
		}
		if begins {
			finish(i - 1)
			start = i
		}
	}
	finish(len(notes) - 1)
}

// longestSlur is how many notes a slur that joins two figures has at most.
const longestSlur = 9

// joinShare is how often a slur goes on into the next figure where the line goes by
// step.
const joinShare = 0.8

// joinSlurs makes longer slurs out of neighbouring ones where a song's line goes on by
// step, and lets single notes join the slur before them.
func (p *piece) joinSlurs(rng *rand.Rand, notes []*placedNote) {
	if !p.req.Style.Marks.Legato || !p.bounds.Marks["slur"] {
		return
	}
	joins := map[string]bool{} // what was drawn, the same each time that a figure returns
	count, open := 0, -1
	for i := 0; i+1 < len(notes); i++ {
		a, b := notes[i], notes[i+1]
		if a.first.SlurStart {
			open, count = i, 1
		}
		count++
		step := b.first.Pitch.Step() - a.first.Pitch.Step()
		if !a.last.SlurStop && open >= 0 {
			continue
		}
		name := a.figureName() + b.figureName()
		if _, ok := joins[name]; !ok {
			joins[name] = rng.Float64() <= joinShare
		}
		if !joinable(a, b) || step < -2 || step > 2 || !joins[name] || !a.last.SlurStop && open < 0 && !a.slurrable() {
			open = -1
			continue
		}
		switch {
		case a.last.SlurStop && b.first.SlurStart && count < longestSlur:
			a.last.SlurStop, b.first.SlurStart = false, false
		case a.last.SlurStop && !b.first.SlurStart && count < longestSlur:
			a.last.SlurStop, b.last.SlurStop = false, true
		case !a.last.SlurStop && b.first.SlurStart && !a.first.SlurStart:
			a.first.SlurStart, b.first.SlurStart = true, false
		case !a.last.SlurStop && !b.first.SlurStart && !a.first.SlurStart:
			a.first.SlurStart, b.last.SlurStop = true, true
		default:
			open = -1
			continue
		}
		if open < 0 {
			open, count = i, 2
		}
	}
}

// figureName tells apart the notes of a section that are to be marked alike: by their
// figure, their place in it and in the measure, and their pitch.
func (n *placedNote) figureName() string {
	return fmt.Sprintf("%s/%s/%d/%d/%s ", n.section.Name, n.slot.cell.Name, n.in, n.at, n.first.Pitch)
}

// slurrable reports whether a slur may set in on the note by itself: on an eighth's
// place or in a tuplet.
func (n *placedNote) slurrable() bool {
	return n.at%rhythm.Offset(rhythm.Eighth) == 0 || n.first.Value.Tuplet.Actual != 0
}

// lean writes tenuto in songs, on rows of repeated notes and on long ones, where no slur
// has them; a figure that returns leans alike, and a row all or not at all.
func (p *piece) lean(rng *rand.Rand, notes []*placedNote) {
	share := p.req.Style.Marks.Tenuto
	if share == 0 || !p.bounds.Marks["tenuto"] {
		return
	}
	leans := map[string]bool{}
	free := unslurred(notes)
	for i := 0; i < len(notes); {
		j, n := i+1, notes[i]
		for j < len(notes) && free[i] && free[j] && notes[j].first.Pitch == n.first.Pitch && notes[j].start == notes[j-1].end && !notes[j-1].last.Breath {
			j++
		}
		name := n.figureName()
		if _, ok := leans[name]; !ok {
			leans[name] = rng.Float64() < share
		}
		afterBreath := i > 0 && notes[i-1].last.Breath && !p.meter.Strong(n.at)
		closes := slices.ContainsFunc(notes[i:j], func(n *placedNote) bool { return n.slot.final != "" })
		if leans[name] && free[i] && !closes && (j-i > 1 || n.duration() >= p.meter.Beat() && !afterBreath) {
			for _, n := range notes[i:j] {
				n.first.Tenuto = true
			}
		}
		i = j
	}
}

// unslurred reports for each note whether no slur has it.
func unslurred(notes []*placedNote) []bool {
	free := make([]bool, len(notes))
	open := false
	for i, n := range notes {
		open = open || n.first.SlurStart
		free[i] = !open
		open = open && !n.last.SlurStop || n.last.SlurStart
	}
	return free
}

// mend sees to the last note of a march: short and marked.
func (p *piece) mend(notes []*placedNote) {
	if n := len(notes); n > 0 && notes[n-1].section.Stinger && p.bounds.Marks["marcato"] {
		notes[n-1].first.Marcato = true
		notes[n-1].first.Accent, notes[n-1].first.Staccato = false, false
	}
}
