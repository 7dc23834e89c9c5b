package compose_test

import (
	"fmt"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/theory"
)

// A page is a read as it lies on the copyist's desk.
type page struct {
	r     *compose.Read
	part  *score.Part
	ink   []inked // all notes and rests in order
	tones []tone  // the notes as they sound, ties merged
}

// An inked is one written note or rest.
type inked struct {
	*score.Note
	measure    int
	key        theory.Key // written
	start, end int64      // from the start of the page, in ticks
	at         int64      // the same from the start of a full measure; later than At in an upbeat
	slurred    bool       // under a slur, or at either end of one
}

// A tone is one sounding note with the written chord under it.
type tone struct {
	first, last *inked
	chord       theory.Chord
	phrase      int // of all phrases of the page, counted from 0
	section     int
}

func (n *tone) pitch() theory.Pitch { return n.first.Pitch }

// length reports how long the note sounds, in ticks.
func (n *tone) length() int64 { return n.last.end - n.first.start }

// A look is what one item of the checklist found.
type look struct {
	examined int
	faults   []string
}

// blame notes a fault at a measure of the page.
func (l *look) blame(p *page, measure int, format string, args ...any) {
	l.faults = append(l.faults, fmt.Sprintf("%s: measure %d: %s", p.r.Identity, p.part.Measures[measure].Number, fmt.Sprintf(format, args...)))
}

// A rule is an item of the checklist: what it asks, who says so, at how many places it
// has to have looked over all pages, the look itself, and what it lets pass.
type rule struct {
	name, source string
	least        int
	look         func(p *page, l *look)
	rare         int // faults that are let pass in ten thousand places
}

// listedFaults is how many faults of a rule are printed.
const listedFaults = 4

// TestCopyist looks a few hundred pages over as a copyist would before they go out. The
// sources are the MusicXML 4.0 documentation where it says so, engraving handbooks from
// memory, else common practice.
func TestCopyist(t *testing.T) {
	t.Parallel()
	var pages []*page
	for _, r := range madeInSequence(t)[:manyReads] {
		pages = append(pages, newPage(r))
	}
	for _, rules := range [][]rule{pitchRules, rhythmRules, slurRules, dynamicRules, breathRules, layoutRules} {
		for _, rule := range rules {
			t.Run(rule.name, func(t *testing.T) {
				var l look
				for _, p := range pages {
					rule.look(p, &l)
				}
				t.Logf("%d places examined (%s)", l.examined, rule.source)
				if l.examined < rule.least {
					t.Errorf("only %d places examined, want %d at least", l.examined, rule.least)
				}
				if len(l.faults) > 0 && 10_000*len(l.faults) <= rule.rare*l.examined {
					t.Logf("%d faults let pass, such as: %s", len(l.faults), l.faults[0])
					return
				}
				for i, f := range l.faults {
					if i == listedFaults {
						break
					}
					t.Error(f)
				}
				if len(l.faults) > listedFaults {
					t.Errorf("and at %d more places", len(l.faults)-listedFaults)
				}
			})
		}
	}
}

// newPage lays a read on the desk.
func newPage(r *compose.Read) *page {
	p := &page{r: r, part: &r.Score.Parts[0]}
	start, slurred := int64(0), false
	var key theory.Key
	for i := range p.part.Measures {
		m := &p.part.Measures[i]
		if m.Key != nil {
			key = *m.Key
		}
		for j := range m.Notes {
			n := &m.Notes[j]
			at := start + int64(n.At)
			slurred = slurred || n.SlurStart
			late := int64(r.Meter.Measure() - m.Length) // of an upbeat
			p.ink = append(p.ink, inked{Note: n, measure: i, key: key, start: at, at: late + int64(n.At), end: at + int64(n.Duration(m)), slurred: slurred || n.SlurStop})
			if n.SlurStop && !n.SlurStart {
				slurred = false
			}
		}
		start += int64(m.Length)
	}
	p.sound()
	return p
}

// sound merges the ties and finds each note's chord, phrase and section.
func (p *page) sound() {
	phrases := map[int]int{} // by measure
	sections := map[int]int{}
	count := 0
	for si, s := range p.r.Sections {
		for _, ph := range s.Phrases {
			for m := range ph.Measures {
				phrases[ph.First+m] = count
			}
			count++
		}
		for m := range s.Measures {
			sections[s.First+m] = si
		}
	}
	up := p.part.Sounds.Neg()
	chord, k := p.r.Chords[0].Chord, 0
	for i := range p.ink {
		n := &p.ink[i]
		for k < len(p.r.Chords) && (p.r.Chords[k].Measure < n.measure || p.r.Chords[k].Measure == n.measure && p.r.Chords[k].At <= n.At) {
			chord, k = p.r.Chords[k].Chord, k+1
		}
		switch {
		case n.Rest:
		case n.TieStop:
			p.tones[len(p.tones)-1].last = n
		default:
			s := sections[n.measure]
			asWritten := theory.Between(p.r.Sections[s].Key.Tonic().Transpose(up).In(4), n.key.Tonic().In(4)) // G-sharp may be read as A-flat
			asWritten.Steps, asWritten.Semitones = (asWritten.Steps+10)%7-3, (asWritten.Semitones+18)%12-6
			p.tones = append(p.tones, tone{first: n, last: n, chord: chord.Transpose(up).Transpose(asWritten), phrase: phrases[n.measure], section: s})
		}
	}
}
