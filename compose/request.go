// Package compose makes a read: a piece that nobody has seen, made of the figures
// that the player has been drilling. It works in five stages, each with a random
// stream of its own: form, harmony, rhythm, melody, marks. It is pure: the same
// request and seed give the same read on every machine.
package compose

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"sync"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// Version is the generator's version. It belongs to a read's identity: a change that
// alters any read raises it.
const Version = 5

// A Request is what is asked of a read. Zero values are drawn, within the rung.
type Request struct {
	Style      *styles.Sheet
	Rung       int
	Instrument theory.Instrument
	Key        *theory.Key   // concert
	Meter      *rhythm.Meter // one of the style's
	Form       string        // a form of the style, "snippet" if Measures is 0
	Measures   int           // instead of a form: that many measures, 4 to 64
	Tempo      int           // felt beats a minute
	Seed       uint64
	// Vocabulary steers the read towards the figures it knows; nil for none.
	Vocabulary *figure.Vocabulary
	// Drills are the lines drilled, whose runs may not return.
	Drills []Line
	// Aims are how much of it is to be known.
	Aims
}

// A World is what the composer works with.
type World struct {
	Catalogue *figure.Catalogue
	Ladder    *ladder.Ladder
	// Seen is what was read before; nil for nothing.
	Seen Seen
	// Measures is the same, measure by measure; nil for nothing.
	Measures Measures
	// Recent are the lines of the latest reads, which go into the sampler at once.
	Recent []Line

	// Blind leaves taste out: every melody and rhythm that the hard rules allow is as
	// likely as any other. It is what the bench of quality compares reads with.
	Blind bool
	// Uncritical takes the first melody drawn of each section, where else a critic chooses
	// among several. It is what critics are learned from.
	Uncritical bool

	books *sync.Map // by drillsKey: what is made of drills once; nil to make it anew
	forms formBook
	lines *lineBook
}

// NewWorld is a world without a past whose copies share what is made of drills once, so
// that a batch of reads from the same drills is quick.
func NewWorld(c *figure.Catalogue, l *ladder.Ladder) World {
	return World{Catalogue: c, Ladder: l, books: &sync.Map{}, forms: formBook{&sync.Map{}}, lines: &lineBook{}}
}

// A Read is a finished read.
type Read struct {
	Title    string
	Identity string // see Request.Identity
	Seed     uint64
	Score    *score.Score
	Style    *styles.Sheet
	Request  Request
	Rung     int
	Meter    rhythm.Meter
	Key      theory.Key // concert
	Tempo    int        // felt beats a minute
	Sections []Section
	Chords   []Chord
	Figures  []Placed
	Traps    []Trap
	Breaths  []Breath
	// Fresh is what the read carries of the things that its rung adds.
	Fresh []string
	// Load is the load of each measure as written, figures a second.
	Load []float64
	// Coverage is the share of notes, 0 to 1, that lie in figures of the vocabulary; 0
	// where there is none.
	Coverage float64
	// Met is what it has of the request's Aims; zero where there are none.
	Met Met
	// LegalLog10 is the common logarithm of how many melodies there were to draw from:
	// those that the plan left once this read's mottos stood, counted exactly, times
	// the mottos that there were, counted by themselves. It is therefore an estimate
	// of the whole where phrases return, and exact where none does.
	LegalLog10  float64
	Certificate Certificate
	Loosened    []string // plans that could not be kept, said rather than hidden
}

// A Section is a strain, in measures of the score.
type Section struct {
	Name      string
	First     int // index of its first measure in the part
	Measures  int // as written, endings included
	Key       theory.Key
	Dynamic   string
	Again     string // the dynamic of the second time, "" for the same
	Character string
	Repeat    bool
	Endings   bool
	Stinger   bool
	Phrases   []Phrase
}

// A Phrase is one phrase of a section.
type Phrase struct {
	First    int // index of its first measure in the part
	Measures int
	Letter   string
	Cadence  string // "half", "open", "close", "on"
}

// A Chord is the harmony from At in a measure on, in concert pitch.
type Chord struct {
	Measure int // index in the part
	At      rhythm.Offset
	Chord   theory.Chord
}

// A Placed is one figure in its place.
type Placed struct {
	figure.Figure
	Measure int // index in the part
	At      rhythm.Offset
	Notes   int
	Known   bool // in the player's vocabulary
	Trap    bool
}

// A Trap is a figure that starts like a known one and leaves it.
type Trap struct {
	Measure int // index in the part
	Shape   string
	Like    string // the figure it starts like
	Words   string
}

// A Breath is a place to breathe: after the note at At.
type Breath struct {
	Measure int
	At      rhythm.Offset // where the note before the breath ends
	Marked  bool          // a breath mark; false where a rest gives the breath
}

// A RequestError is a request that cannot be met as asked; it says what to change.
type RequestError struct{ What string }

func (e *RequestError) Error() string { return e.What }

func refuse(format string, args ...any) error {
	return &RequestError{fmt.Sprintf(format, args...)}
}

// stream reports the named random stream of a seed, so that a change to one stage
// does not reshuffle the others.
func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// draw picks an index with a probability proportional to its weight; -1 if all are 0.
func draw(rng *rand.Rand, n int, weight func(int) float64) int {
	total := 0.0
	for i := range n {
		total += weight(i)
	}
	if total <= 0 {
		return -1
	}
	x := rng.Float64() * total
	last := -1
	for i := range n {
		w := weight(i)
		if w <= 0 {
			continue
		}
		last = i
		if x -= w; x < 0 {
			break
		}
	}
	return last
}
