package compose

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/rhythm"
)

// Aims say how much of a read is to be known to the player; what is nil comes as it comes.
// Known are the figures of the vocabulary; without one, those that the rungs below hold.
type Aims struct {
	Coverage *float64 // share of its notes that lie in known figures, 0 to 1
	Traps    *int     // traps on the page, 0 or more
	New      *int     // kinds of figures of several notes that are not known, traps left out
}

func (a Aims) given() bool { return a.Coverage != nil || a.Traps != nil || a.New != nil }

// bringFigures reports whether a read for a player without a vocabulary is to have figures
// that are not known.
func (a Aims) bringFigures(v *figure.Vocabulary) bool {
	return v == nil && (a.New != nil && *a.New > 0 || a.Coverage != nil && *a.Coverage < 1)
}

// nothingNew reports whether a read for a player without a vocabulary is to have no figures
// that are not known, and few notes.
func (a Aims) nothingNew(v *figure.Vocabulary) bool {
	return v == nil && a.New != nil && *a.New == 0 && (a.Coverage == nil || *a.Coverage > nearlyAll)
}

// nearlyAll is a coverage that leaves no notes over for what the rung brings.
const nearlyAll = 0.95

// Met is what a read has of what was aimed at.
type Met struct {
	Coverage float64         // 0 to 1
	Traps    int             // on the page
	New      []figure.Figure // in order of meeting
	// Notes is how many notes the page has, and Longest how many its longest figure: the
	// coverage is met where it is no further off than one figure.
	Notes, Longest int
}

// aimTries is how often a read is drawn at most until it meets its aims; triesASettling how
// often of them in the same key and meter, mostWork how much is built for them at most, in
// edges of lattices: a second or so.
const (
	aimTries       = 36
	triesASettling = 6
	mostWork       = 6_000_000
)

// patience is after how many draws in a row that come no nearer the nearest read is taken:
// fewer where it is within one figure of each aim, or traps and new figures leave no room
// for the coverage.
func (a *aiming) patience(m Met) int {
	one := func(aim *int, had int) bool { return aim == nil || abs(had-*aim) <= 1 }
	covers := Aims{Coverage: a.Coverage}
	switch {
	case a.tight(m) != "":
		return 8
	case one(a.Traps, m.Traps) && one(a.New, len(m.New)) && (&aiming{Aims: covers}).off(m) == 0:
		return 16
	}
	return 24
}

// An aiming is the way to the aims: what is planned differs from what is aimed at by what
// the draws before were off.
type aiming struct {
	Aims
	share float64 // of the notes, planned to be known
	cells float64 // times the weight of cells that are not known
	hosts float64 // times the weight of cells that may get a trap
	news  int     // new figures, planned
	// shortest is how many notes a new figure has at least.
	shortest int
	// scarce says that the rhythm had too few notes that may be unknown, surplus too many
	// that must be.
	scarce, surplus bool
	only            []figure.Figure // the new ones, so far
	placed          int             // traps, so far
	work            int             // edges built
	least           float64         // how far the nearest read is off
}

// composeAims is compose for a read with aims. It takes the read that comes nearest.
func composeAims(w *World, req Request) (*Read, int, error) {
	aim := &aiming{Aims: req.Aims, share: 1, cells: 1, hosts: 1, least: math.Inf(1)}
	if err := aim.check(w, req); err != nil {
		return nil, 0, err
	}
	var p *piece
	var best *Read
	var first error
	draws, refused, nearest := 0, 0, 0
	for try := 0; try < aimTries && refused < refusals && aim.work < mostWork; try++ {
		if best != nil && try-nearest >= aim.patience(best.Met) {
			break
		}
		next, err := settleAnew(w, req, try/triesASettling)
		if err != nil {
			return nil, draws, err
		}
		next.goOn(p)
		next.aim, p = aim, next
		if try%triesASettling == 0 {
			aim.begin()
		}
		r, err := p.read()
		draws += p.draws
		var refusal *RequestError
		var returned *returnedError
		switch {
		case err == nil:
		case errors.Is(err, errNoNearer):
			aim.learnPlaces(aim.placed, len(aim.only))
			continue
		case errors.As(err, &refusal), errors.As(err, &returned):
			if refused++; first == nil {
				first = err
			}
			continue
		default:
			return nil, draws, err
		}
		r.Met = p.met(r)
		off := aim.off(r.Met)
		if r.Certificate.crowded() {
			off++
		}
		if off < aim.least {
			best, aim.least, nearest = r, off, try
		}
		if off == 0 {
			break
		}
		aim.learn(r.Met)
	}
	if best == nil {
		return nil, draws, first
	}
	if best.Certificate.crowded() {
		best.sayShared()
	}
	best.Loosened = append(best.Loosened, aim.missed(best.Met)...)
	return best, draws, nil
}

// check refuses aims that say nothing, or that the rung has no means to meet, and notes what
// the rung has.
func (a *aiming) check(w *World, req Request) error {
	if c := a.Coverage; c != nil && !(*c >= 0 && *c <= 1) {
		return refuse("coverage %v: write 0 to 1", *c)
	}
	for what, n := range map[string]*int{"traps": a.Traps, "new": a.New} {
		if n != nil && (*n < 0 || *n > mostAimed) {
			return refuse("%s %d: write 0 to %d", what, *n, mostAimed)
		}
	}
	rung, err := w.Ladder.Rung(req.Rung)
	if err != nil {
		return refuse("%v", err)
	}
	a.shortest = w.shortestNew(rung, req.Vocabulary)
	if a.Traps == nil || *a.Traps == 0 || rung.Traps[1] > 0 {
		return nil
	}
	return refuse("rung %d has no traps yet; rung %d brings them", req.Rung, w.firstTraps())
}

// firstTraps reports the number of the first rung that has traps, 0 for none.
func (w *World) firstTraps() int {
	for i := range w.Ladder.Rungs {
		if w.Ladder.Rungs[i].Traps[1] > 0 {
			return w.Ladder.Rungs[i].Number
		}
	}
	return 0
}

// mostAimed is the most traps and new figures that may be aimed at.
const mostAimed = 32

// restart forgets what a draw before this one had.
func (a *aiming) restart() { a.only, a.placed, a.scarce, a.surplus = nil, 0, false, false }

// errNoNearer says that a draw was left, as it could come no nearer to the aims than one
// before.
var errNoNearer = errors.New("compose: no nearer to the aims")

// lastDrawn reports whether no section after this one has a melody of its own.
func (p *piece) lastDrawn(s *section) bool {
	for i := len(p.sections) - 1; i >= 0 && p.sections[i] != s; i-- {
		if p.sections[i].of == nil {
			return false
		}
	}
	return true
}

// noNearer reports whether, all being placed, more traps and new figures have no place
// than the nearest read lacks.
func (a *aiming) noNearer(all bool) bool {
	if a == nil || !all {
		return false
	}
	short := 0
	if a.Traps != nil {
		short += max(*a.Traps-a.placed, 0)
	}
	if a.New != nil {
		short += max(*a.New-len(a.only), 0)
	}
	return short > 0 && float64(short) >= a.least
}

// begin plans what is aimed at, for a new key and meter.
func (a *aiming) begin() {
	if a.Coverage != nil {
		a.share = *a.Coverage
	}
	if a.New != nil {
		a.news = *a.New
	}
}

// moreCells is how much oftener unknown cells are taken at a time: with a vocabulary they
// are very rare at first.
const (
	moreCells  = 30
	fewerCells = 16 // how much rarer
)

// mostExtra is how many new figures more than aimed at are planned at most.
const mostExtra = 3

// moreHosts is how much oftener cells that may get a trap are taken at a time, mostHosts the
// most.
const (
	moreHosts = 3
	mostHosts = 100
)

// off reports how far the read is from its aims, in figures; 0 where it meets them.
func (a *aiming) off(m Met) float64 {
	sum := 0.0
	if a.Coverage != nil {
		notes := math.Abs(m.Coverage-*a.Coverage) * float64(m.Notes)
		if notes > float64(m.Longest) {
			sum += notes / float64(m.Longest) // in figures, as the others are counted
		}
	}
	if a.Traps != nil {
		sum += math.Abs(float64(m.Traps - *a.Traps))
	}
	if a.New != nil {
		sum += math.Abs(float64(len(m.New) - *a.New))
	}
	return sum
}

// learn plans otherwise for the next draw, by what this one was off.
func (a *aiming) learn(m Met) {
	if a.Coverage != nil {
		off := *a.Coverage - m.Coverage
		a.share = min(max(a.share+0.7*off, -0.5), 1.5)
		switch {
		case off > 0 && (a.surplus || a.share > 1):
			a.cells = max(a.cells/fewerCells, 1e-7)
		case off < 0 && (a.scarce || a.share < 0):
			a.cells = min(a.cells*moreCells, 1/unknownCell)
		}
	}
	a.learnPlaces(m.Traps, len(m.New))
	if a.New != nil && len(m.New) > *a.New && !a.scarce {
		a.cells = max(a.cells/4, 1e-7)
	}
	if a.New != nil { // some are found as others, or others as new
		a.news = min(max(a.news+*a.New-len(m.New), 0), *a.New+mostExtra)
	}
}

// leastTrap is how many notes a trap has at least.
const leastTrap = 3

// shortestNew reports how many notes a new figure of the rung has at least: with a
// vocabulary, which may lack anything, two.
func (w *World) shortestNew(rung *ladder.Rung, v *figure.Vocabulary) int {
	least := math.MaxInt
	for _, t := range rung.Adds {
		for _, name := range t.Cells {
			if n := w.Catalogue.Cell(name).Onsets(); n > 1 {
				least = min(least, n)
			}
		}
		for _, name := range t.Shapes {
			least = min(least, max(w.Catalogue.Shape(name).Notes(), 2))
		}
	}
	if v != nil || least == math.MaxInt {
		return 2
	}
	return least
}

// tight says that traps and new figures leave no room for the coverage, "" where they do.
func (a *aiming) tight(m Met) string {
	if a.Coverage == nil {
		return ""
	}
	notes := 0
	if a.Traps != nil {
		notes += leastTrap * *a.Traps
	}
	if a.New != nil {
		notes += a.shortest * *a.New
	}
	if float64(notes) <= (1-*a.Coverage)*float64(m.Notes)+float64(m.Longest) {
		return ""
	}
	return fmt.Sprintf("its traps and new figures would be at least %d of its %d notes, more than %.0f %% in known figures leave: take a longer form, or fewer of them", notes, m.Notes, 100**a.Coverage)
}

// learnPlaces plans for more places, where so many traps or new figures were too few.
func (a *aiming) learnPlaces(traps, news int) {
	if a.Traps != nil && traps < *a.Traps {
		a.hosts = min(a.hosts*moreHosts, mostHosts)
	}
	if a.New != nil && news < *a.New {
		a.cells = min(a.cells*4, 1/unknownCell)
	}
}

// missed says which aims the read does not meet.
func (a *aiming) missed(m Met) []string {
	var out []string
	if tight := a.tight(m); tight != "" && a.off(m) > 0 {
		out = append(out, tight)
	}
	if c := a.Coverage; c != nil && math.Abs(m.Coverage-*c)*float64(m.Notes) > float64(m.Longest) {
		out = append(out, fmt.Sprintf("%.0f %% of its notes lie in known figures, where %.0f %% were asked for: take another rung or meter, or drill other figures", 100*m.Coverage, 100**c))
	}
	if n := a.Traps; n != nil && m.Traps != *n {
		out = append(out, fmt.Sprintf("traps: %d, where %d were asked for: take a longer form, or fewer", m.Traps, *n))
	}
	if n := a.New; n != nil && len(m.New) != *n {
		out = append(out, fmt.Sprintf("new figures: %d, where %d were asked for: take another rung, or a longer form", len(m.New), *n))
	}
	return out
}

// met reports what the read has of what is aimed at: with a vocabulary as recognition finds
// it, without one by the figures that it was made of.
func (p *piece) met(r *Read) Met {
	part := &r.Score.Parts[0]
	m := Met{Traps: len(r.Traps)}
	known := 0
	take := func(f figure.Figure, notes int, knows bool) {
		m.Longest = max(m.Longest, notes)
		shape := p.world.Catalogue.Shape(f.Shape)
		switch {
		case knows:
			known += notes
		case shape != nil && shape.LooksLike == "" && notes > 1 && !slices.Contains(m.New, f):
			m.New = append(m.New, f)
		}
	}
	if v := p.vocabulary; v != nil {
		m.Notes = onsets(part)
		for _, f := range p.world.Catalogue.RecognizeIn(part, v) {
			take(f.Figure, f.Notes, v.Knows(f.Figure))
		}
	} else {
		for _, f := range r.Figures {
			m.Notes += f.Notes
			take(f.Figure, f.Notes, !f.Trap && p.knows(f.Figure))
		}
	}
	m.Coverage = thousandths(float64(known) / float64(max(m.Notes, 1)))
	return m
}

// knows reports whether the player knows the figure: see Aims.
func (p *piece) knows(f figure.Figure) bool {
	if p.drilled != nil {
		_, ok := p.drilled.figures[f]
		return ok
	}
	return !p.bounds.FreshShapes[f.Shape] && !p.bounds.FreshCells[f.Cell] && !p.bounds.Traps[f.Shape]
}

// aimsAtKnown reports whether the read aims at how much of it is known.
func (p *piece) aimsAtKnown() bool {
	return p.aim != nil && (p.aim.Coverage != nil || p.aim.New != nil)
}

// cellFactor is how much oftener a cell is used for the read's aims.
func (p *piece) cellFactor(c *rhythm.Cell) float64 {
	f := 1.0
	if p.aim != nil && p.aim.Traps != nil && *p.aim.Traps > 0 && p.trapsOn(c.Onsets()) {
		f = p.aim.hosts
	}
	if p.aimsAtKnown() && (p.drilled == nil && p.bounds.FreshCells[c.Name] || p.drilled != nil && p.drilled.cells[c.Name] == 0) {
		f *= p.aim.cells
	}
	return f
}

// keptBack is how rare cells that are not known have become when none is to be brought.
const keptBack = 0.1

// keepsBack reports whether the read's aims leave no room for what its rung brings.
func (p *piece) keepsBack() bool {
	return p.aimsAtKnown() && p.aim.cells < keptBack && (p.aim.New == nil || *p.aim.New == 0)
}
