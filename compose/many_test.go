package compose_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"onward/compose"
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A shelf remembers reads in memory.
type shelf struct {
	hashes map[uint64]bool
	runs   map[uint64][][]int8
}

func newShelf() *shelf { return &shelf{map[uint64]bool{}, map[uint64][][]int8{}} }

func (s *shelf) Seen(_ int, hashes []uint64) (map[uint64]bool, error) {
	found := map[uint64]bool{}
	for _, h := range hashes {
		if s.hashes[h] {
			found[h] = true
		}
	}
	return found, nil
}

func (s *shelf) WithRhythm(length int, rhythms []uint64) (map[uint64][][]int8, error) {
	out := map[uint64][][]int8{}
	for _, r := range rhythms {
		for _, in := range s.runs[r] {
			if len(in) == length-1 {
				out[r] = append(out[r], in)
			}
		}
	}
	return out, nil
}

func (s *shelf) add(runs []compose.Run) {
	for _, r := range runs {
		if !s.hashes[r.Hash] {
			s.hashes[r.Hash] = true
			s.runs[r.Rhythm] = append(s.runs[r.Rhythm], r.Intervals)
		}
	}
}

// manyReads is how many reads are made one after the other: some ten for each style and rung,
// over all instruments and forms.
const manyReads = 240

// madeOnce are reads that were made one after the other, each with those before it in
// memory. ONWARD_LONG=1 makes ten thousand.
var madeOnce = sync.OnceValues(func() ([]*compose.Read, error) {
	w, err := freshWorld()
	if err != nil {
		return nil, err
	}
	count := manyReads
	if long() {
		count = 10_000
	}
	mem := newShelf()
	w.Seen = mem
	var all []*compose.Read
	for i := 0; len(all) < count; i++ {
		requests, err := manyRequests(i)
		if err != nil {
			return nil, err
		}
		for _, req := range requests {
			r, err := compose.Compose(&w, req)
			if err != nil {
				return nil, fmt.Errorf("read %d (%s): %w", len(all), req.Identity(), err)
			}
			mem.add(compose.Runs(&r.Score.Parts[0], w.Ladder.Runs()))
			all = append(all, r)
		}
	}
	return all, nil
})

func madeInSequence(t *testing.T) []*compose.Read {
	t.Helper()
	all, err := madeOnce()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// manyRequests are what is asked for in the ith place: on rung 11, which has all meters, a
// read in one of the style's, too.
func manyRequests(i int) ([]compose.Request, error) {
	s, err := styles.Shipped(styles.Names()[i%2])
	if err != nil {
		return nil, err
	}
	instruments := theory.Instruments()
	req := compose.Request{Style: s, Rung: 1 + i/2%12, Instrument: instruments[i%len(instruments)], Seed: uint64(1000 + i)}
	switch (i/2 + i/24) % 6 {
	case 0:
		req.Form = "snippet"
	case 1:
		req.Measures = 4 + i%29
	case 2:
		req.Form = s.Forms[len(s.Forms)-1].Name // the whole march, the song
	default:
		req.Form = "strain"
	}
	if req.Rung != 11 {
		return []compose.Request{req}, nil
	}
	m, err := rhythm.ParseMeter(s.Meters[i/24%len(s.Meters)].Name)
	other := req
	other.Meter = &m
	return []compose.Request{req, other}, err
}

// TestManyReads looks at reads over all styles, rungs, instruments, keys and meters: each
// legal, inside its rung, unlike every other, and sharing no run with any before it.
func TestManyReads(t *testing.T) {
	t.Parallel()
	w := world(t)
	lengths := w.Ladder.Runs()
	pages, runs := map[string]int{}, map[string]int{}
	used := map[string]int{}
	for i, r := range madeInSequence(t) {
		part := &r.Score.Parts[0]
		if err := score.Check(r.Score).Err(); err != nil {
			t.Errorf("read %d: %v", i, err)
		}
		if fault := outside(w.Ladder, w, r); fault != "" {
			t.Errorf("read %d (%s): %s\n%s", i, r.Identity, fault, score.Text(*part))
		}
		page := score.Text(*part)
		if j, ok := pages[page]; ok {
			t.Errorf("read %d is read %d again", i, j)
		}
		pages[page] = i
		length := r.Certificate.Length
		for _, key := range runTexts(part, length) {
			if j, ok := runs[key]; ok {
				t.Errorf("read %d (%s) shares %d notes with read %d: %s", i, r.Identity, length, j, key)
			}
		}
		for _, n := range lengths {
			for _, key := range runTexts(part, n) {
				runs[key] = i
			}
		}
		used[fmt.Sprintf("L = %d", length)]++
		used[fmt.Sprintf("%s rung %d", r.Style.Name, r.Rung)]++
		used[r.Request.Instrument.ID]++
		used["meter "+r.Meter.String()]++
		used["concert "+r.Key.String()]++
		if len(r.Loosened) > 0 {
			used["loosened"]++
		}
	}
	t.Log(used)
}

// outside says what of a read its rung does not have.
func outside(l *ladder.Ladder, w *compose.World, r *compose.Read) string {
	rung := l.Rungs[r.Rung-1]
	var keys, meters []string
	mine := map[string]string{} // the rung's own keys, meters, cells, shapes: the thing they belong to
	keys, meters = append(keys, l.Ground.Keys...), append(meters, l.Ground.Meters...)
	for _, lower := range l.Rungs[:r.Rung] {
		for _, thing := range lower.Adds {
			keys, meters = append(keys, thing.Keys...), append(meters, thing.Meters...)
			if lower.Number == r.Rung {
				for _, names := range [][]string{thing.Keys, thing.Meters, thing.Cells, thing.Shapes, thing.Traps} {
					for _, n := range names {
						mine[n] = thing.Words
					}
				}
			}
		}
	}
	carried := map[string]bool{}
	for _, s := range r.Sections {
		if !slices.Contains(keys, s.Key.String()) {
			return "key " + s.Key.String()
		}
		carried[mine[s.Key.String()]] = true
	}
	if !slices.Contains(meters, r.Meter.String()) {
		return "meter " + r.Meter.String()
	}
	carried[mine[r.Meter.String()]] = true
	for _, f := range r.Figures {
		c, s := w.Catalogue.Cell(f.Cell), w.Catalogue.Shape(f.Shape)
		if c == nil && f.Notes == 1 && (f.Cell == "quarter" || f.Cell == "eighth" && (r.Rung > 3 || r.Meter.Compound())) {
			continue // an upbeat of one note
		}
		if c == nil {
			return fmt.Sprintf("figure %q on %q, which no catalogue has", f.Shape, f.Cell)
		}
		if c.Level > r.Rung || s.Level > r.Rung && !f.Trap {
			return fmt.Sprintf("figure %q on %q stands on a higher rung", f.Shape, f.Cell)
		}
		carried[mine[f.Cell]], carried[mine[f.Shape]] = true, true
	}
	delete(carried, "")
	if len(carried) > 2 {
		return fmt.Sprintf("it carries %d of the rung's things: %v", len(carried), carried)
	}
	if len(r.Traps) > rung.Traps[1]*max(1, len(r.Score.Parts[0].Measures)/16+1) {
		return fmt.Sprintf("%d traps", len(r.Traps))
	}
	return outsideLine(&rung, r)
}

// outsideLine looks at span, range and leaps, inside sections' lines.
func outsideLine(rung *ladder.Rung, r *compose.Read) string {
	lo, hi := theory.Pitch{}, theory.Pitch{}
	var last *theory.Pitch
	part := &r.Score.Parts[0]
	for i := range part.Measures {
		m := &part.Measures[i]
		seam := m.Ending == 2
		for _, s := range r.Sections {
			seam = seam || s.First == i
		}
		for j, n := range m.Notes {
			if n.Rest {
				continue
			}
			q := n.Pitch
			if last == nil || q.MIDI() < lo.MIDI() {
				lo = q
			}
			if last == nil || q.MIDI() > hi.MIDI() {
				hi = q
			}
			if last != nil && !(seam && j == 0) {
				if d := max(q.Step()-last.Step(), last.Step()-q.Step()); d+1 > rung.Leap {
					return fmt.Sprintf("measure %d: a leap from %s to %s", m.Number, last, q)
				}
			}
			last = &q
		}
	}
	if hi.Step()-lo.Step()+1 > rung.Span {
		return fmt.Sprintf("%s to %s is more than %d notes", lo, hi, rung.Span)
	}
	bracket := r.Request.Instrument.Ranges[theory.Beyond]
	if lo.MIDI() < bracket.Low.MIDI() || hi.MIDI() > bracket.High.MIDI() {
		return fmt.Sprintf("%s to %s is beyond the instrument", lo, hi)
	}
	return ""
}

// runTexts spells every run of the page as text, found without the composer's help:
// the page in order, and each second ending after the body.
func runTexts(p *score.Part, length int) []string {
	type note struct{ midi, at int }
	var out []string
	var line, fork []note
	collect := func() {
		for i := 0; i+length <= len(line); i++ {
			var s strings.Builder
			even := true
			for j := i + 1; j < i+length; j++ {
				d, t := line[j].midi-line[j-1].midi, line[j].at-line[j-1].at
				fmt.Fprintf(&s, "%d:%d ", d, t)
				even = even && t == line[i+1].at-line[i].at
			}
			if !(even && plain(func(k int) int { return line[i+k].midi }, length)) {
				out = append(out, s.String())
			}
		}
	}
	at, forkAt, tied := 0, 0, false
	for i := range p.Measures {
		m := &p.Measures[i]
		if m.Ending == 1 && m.EndingStart {
			fork, forkAt = slices.Clone(line[max(0, len(line)-length+1):]), at
		}
		if m.Ending == 2 && m.EndingStart {
			collect()
			line, at = fork, forkAt
		}
		for _, n := range m.Notes {
			if !n.Rest && !(tied && n.TieStop) {
				line = append(line, note{n.Pitch.MIDI(), at + int(n.At)})
			}
			tied = !n.Rest && n.TieStart
		}
		at += int(rhythm.Duration(m.Length))
	}
	collect()
	return out
}

// plain reports whether the pitches are one note, a scale one way or an arpeggio one
// way: what is common property.
func plain(at func(int) int, n int) bool {
	same, up, down, steps, skips := true, true, true, true, true
	for k := 1; k < n; k++ {
		d := at(k) - at(k-1)
		same, up, down = same && d == 0, up && d > 0, down && d < 0
		d = max(d, -d)
		steps, skips = steps && (d == 1 || d == 2), skips && d >= 3 && d <= 5
	}
	return same || (up || down) && (steps || skips)
}
