package compose_test

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// withSigns is a page with all that changes the order of its notes: an upbeat, a repeat with
// two endings, a strain that is shorter than the longest run, with a repeat.
const withSigns = `key C; 4/4 treble pickup G4:8 A4:8 |
	|: B4:4 D5:8 C5:8 {G5}E5:4. B4:8 | G4:2~ G4:8 A4:8 F#4:4 | D4:4 r:4 F4:8 A4:8 C5:4 |
	[1 E5:8 D5:8 B4:4 G4:2~ | G4:4 C5:4 A4:4. F4:8 ] :|
	[2 E5:8 C5:8 A4:8 B4:8 F5:4 D5:4 | C5:2 r:4 G4:8 C5:8 ] |
	|: D4:4 F4:2 B4:4 | A4:2. E4:4 :|
	C5:8 B4:8 r:8 D5:8 G4:4 E4:4 | A4:4. F5:8 D5:4 B4:4 | G5:8 E5:8 C5:4 D5:8 F4:8 A4:4 | G4:2 C4:2 |]`

// longStrain is a page whose first strain is longer than twice the longest run and begins
// without a sign.
const longStrain = `key C; 4/4 treble C4:4 A4:8 D4:8 F5:2 | B4:4 E4:4 G5:4 F4:4 | D5:8 G4:8 C5:4 A4:4. B4:8 |
	E5:4 C4:4 F4:8 D5:8 B4:4 | A5:4 D4:4. G4:8 E5:4 | C5:8 F4:8 A4:8 E4:8 G4:4 B4:4 | F5:4. C5:8 D5:4 A4:4 |
	G4:8 B4:8 E4:4 D4:4 C5:4 | A4:4 F5:8 E4:8 B4:2 | D4:8 C5:8 G5:8 F4:8 E5:4 A4:4 | B4:4 D4:4 F4:4 G4:4 :|
	E4:4 D5:4 G4:8 A4:8 C4:4 | F5:8 B4:8 D4:4 C5:4. E4:8 | A4:8 G5:8 F4:4 D5:4 B4:4 | C5:2 C4:2 |]`

// plainly is a page of the notes as they sound, without a sign. No check asks how it looks.
func plainly(notes []sounded) score.Part {
	var m score.Measure
	for _, n := range notes {
		pitch := theory.Pitch{Letter: theory.C, Alter: n.midi - 60, Octave: 4}
		m.Notes = append(m.Notes, score.Note{At: rhythm.Offset(n.at), Value: rhythm.Value{Base: 4}, Pitch: pitch})
		m.Length = rhythm.Duration(n.at) + rhythm.Whole
	}
	return score.Part{Measures: []score.Measure{m}}
}

// framed is the notes, so many semitones higher, between notes whose times no other page has.
func framed(notes []sounded, semitones int) []sounded {
	out := []sounded{{50, 0}, {57, 1}, {51, 2}}
	for _, n := range notes {
		out = append(out, sounded{n.midi + semitones, 3 + n.at - notes[0].at})
	}
	end := out[len(out)-1].at
	return append(out, sounded{62, end + 1}, sounded{55, end + 2})
}

// A before is how a page came to be heard before another is made.
type before struct {
	name string
	with func(w *compose.World, p *score.Part) (drills []compose.Line)
}

// befores are all ways. A world of NewWorld keeps what it made of drills; the drills of the
// second way come after others.
var befores = []before{
	{"drilled", func(_ *compose.World, p *score.Part) []compose.Line { return compose.Lines(p, 19) }},
	{"drilled with others, in a batch", func(w *compose.World, p *score.Part) []compose.Line {
		*w = compose.NewWorld(w.Catalogue, w.Ladder)
		other := plainly([]sounded{{60, 0}, {61, 5}, {70, 11}})
		drills := append(compose.Lines(&other, 19), compose.Lines(p, 19)...)
		compose.Prove(other, w, drills[:1], 9)
		compose.Prove(other, w, drills, 9)
		return drills
	}},
	{"read lately", func(w *compose.World, p *score.Part) []compose.Line {
		w.Recent = compose.Lines(p, 19)
		return nil
	}},
	{"read long ago", func(w *compose.World, p *score.Part) []compose.Line {
		s := newShelf()
		s.add(compose.Runs(p, w.Ladder.Runs()))
		w.Seen = s
		return nil
	}},
}

// verdict reports whether the page is refused after the other was heard so. It stops the
// test where the proof fails in another way.
func (b before) verdict(t *testing.T, w compose.World, page, other score.Part, length int) (compose.Certificate, bool) {
	t.Helper()
	c, err := compose.Prove(page, &w, b.with(&w, &other), length)
	if err != nil && !strings.Contains(err.Error(), "returns") {
		t.Fatalf("%s: %v", b.name, err)
	}
	return c, err != nil
}

// Wherever a run of L notes stands in what is played, over repeat signs and endings too, the
// page is refused that has it, in any key and however it was heard; with a run of one note
// less it is not.
func TestAPlantedRunIsRefused(t *testing.T) {
	for _, text := range []string{withSigns, longStrain} {
		plant(t, *world(t), score.MustText(text))
	}
}

func plant(t *testing.T, w compose.World, page score.Part) {
	t.Helper()
	notes := performance(&page)
	for _, length := range []int{9, 12, 20} {
		for i := range notes {
			for _, n := range []int{length - 1, length, length + 1} {
				if i+n > len(notes) {
					continue
				}
				run := framed(notes[i:i+n], 5-i%11)
				for _, b := range befores {
					c, refused := b.verdict(t, w, page, plainly(run), length)
					if want := n >= length; refused != want {
						t.Errorf("%s, notes %d to %d as played, L = %d: refused is %v, want %v", b.name, i, i+n-1, length, refused, want)
					} else if !refused && b.name != "read long ago" && c.Longest != n {
						t.Errorf("%s, notes %d to %d as played: %d notes at most return by the certificate, want %d", b.name, i, i+n-1, c.Longest, n)
					}
					if _, refused := b.verdict(t, w, plainly(run), page, length); refused != (n >= length) {
						t.Errorf("%s with signs, notes %d to %d as played, L = %d: refused is %v", b.name, i, i+n-1, length, refused)
					}
				}
			}
		}
	}
}

// The proof decides as plain comparison does on short pages of few intervals and times, where
// runs come back often, and scales, arpeggios and repeated notes too.
func TestProofEqualsPlainComparison(t *testing.T) {
	w, rng := *world(t), rand.New(rand.NewPCG(3, 4))
	random := func() []sounded {
		ways := [][]int{{1, 2, -1}, {3, 4, 5, -3}, {0, 2, 6}, {-1, -2, -5}, {-3, -4, 2}, {5, -5, 0, 0},
			{1, 2}, {-1, -2}, {3, 4, 5}, {-3, -4, -5}, {0}, {6}}[rng.IntN(12)]
		notes := []sounded{{60, 0}}
		for range 12 + rng.IntN(20) {
			last := notes[len(notes)-1]
			last.midi += ways[rng.IntN(len(ways))]
			last.at += []int{5, 5, 5, 5, 5, 5, 5, 7}[rng.IntN(8)]
			notes = append(notes, last)
		}
		return notes
	}
	const length = 9
	refusals := 0
	for range 1000 {
		a, b := random(), random()
		if k := rng.IntN(4); k > 0 { // a part of one in the other
			i := rng.IntN(len(b) - 11)
			for n := range min(length-2+rng.IntN(4), len(a)) {
				a[n].midi, a[n].at = b[i+n].midi+k, b[i+n].at-b[i].at
			}
		}
		if _, err := compose.Prove(plainly(a), &w, nil, length); err != nil {
			continue // a run of a tune that was learned from, by chance
		}
		heard := past{}
		heard.hear(b, length)
		want := len(heard.returning(a, length)) > 0
		for _, how := range befores {
			if _, refused := how.verdict(t, w, plainly(a), plainly(b), length); refused != want {
				t.Fatalf("%s: refused is %v, want %v\n%v\n%v", how.name, refused, want, a, b)
			}
		}
		if want {
			refusals++
		}
	}
	if refusals < 150 || refusals > 850 {
		t.Errorf("%d of 1000 pages are refused: too few or too many to tell much", refusals)
	}
}

// What an older read shares below L is told by the lengths that the journal keeps; what the
// journal cannot tell is no proof.
func TestProofByHashes(t *testing.T) {
	page := score.MustText(withSigns)
	notes := performance(&page)
	for n, want := range map[int]int{8: 0, 9: 9, 11: 9, 12: 12, 19: 12} {
		long := befores[len(befores)-1]
		if c, refused := long.verdict(t, *world(t), page, plainly(framed(notes[10:10+n], 0)), 20); refused || c.Longest != want {
			t.Errorf("%d notes of an older read: %d at most by the certificate, refused %v; want %d", n, c.Longest, refused, want)
		}
	}
	for _, length := range []int{9, 20} {
		w := world(t)
		w.Seen = lost{errLost, length}
		if _, err := compose.Prove(page, w, nil, 20); !errors.Is(err, errLost) {
			t.Errorf("a journal without an answer for runs of %d: got %v, want its error", length, err)
		}
	}
	c, err := compose.Prove(page, world(t), compose.Lines(&page, 0)[:0], 9)
	if err != nil || c.Length != 9 || c.Against != 0 || c.Longest != 0 || c.Measures != 11 || c.Compared < len(notes)-8 { // without upbeat and first ending
		t.Errorf("nothing before: %+v, %v", c, err)
	}
}

// Runs and measures that a journal has kept are found again only by the same hashes.
func TestHashesAreThoseOfTheJournal(t *testing.T) {
	page := score.MustText(withSigns)
	if got := compose.Runs(&page, []int{9})[0].Hash; got != 0xb1a6c08bd335f37d {
		t.Errorf("the first run of nine notes is %#x", got)
	}
	if got := compose.MeasuresOf(&page)[0]; got != 0x2b479df8d850d4ef {
		t.Errorf("the first measure is %#x", got)
	}
}

var errLost = errors.New("the journal is gone")

// A lost journal answers with an error for runs of one length, and knows none of another.
type lost struct {
	err    error
	length int
}

func (l lost) Seen(length int, _ []uint64) (map[uint64]bool, error) {
	if length == l.length {
		return nil, l.err
	}
	return nil, nil
}

func (l lost) WithRhythm(int, []uint64) (map[uint64][][]int8, error) { return nil, l.err }
