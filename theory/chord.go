package theory

// A Quality is the build of a chord.
type Quality int

// The chord qualities in use.
const (
	MajorTriad Quality = iota
	MinorTriad
	DiminishedTriad
	AugmentedTriad
	DominantSeventh
	MinorSeventhChord
	HalfDiminished
	DiminishedSeventh
	MajorSeventhChord
)

var builds = [...][]Interval{
	MajorTriad:        {{0, 0}, {2, 4}, {4, 7}},
	MinorTriad:        {{0, 0}, {2, 3}, {4, 7}},
	DiminishedTriad:   {{0, 0}, {2, 3}, {4, 6}},
	AugmentedTriad:    {{0, 0}, {2, 4}, {4, 8}},
	DominantSeventh:   {{0, 0}, {2, 4}, {4, 7}, {6, 10}},
	MinorSeventhChord: {{0, 0}, {2, 3}, {4, 7}, {6, 10}},
	HalfDiminished:    {{0, 0}, {2, 3}, {4, 6}, {6, 10}},
	DiminishedSeventh: {{0, 0}, {2, 3}, {4, 6}, {6, 9}},
	MajorSeventhChord: {{0, 0}, {2, 4}, {4, 7}, {6, 11}},
}

var suffixes = [...]string{"", "m", "dim", "aug", "7", "m7", "m7b5", "dim7", "maj7"}

// String reports the quality's suffix as in chord symbols: "", "m", "7", "dim" ...
func (q Quality) String() string { return suffixes[q] }

// A Chord is a root and a quality. Inversion is the bass's affair, not the chord's.
type Chord struct {
	Root    Class
	Quality Quality
}

// String reports the chord symbol, as in "Bb", "F7", "Gm".
func (c Chord) String() string { return c.Root.String() + c.Quality.String() }

// Tones reports the members from the root upward.
func (c Chord) Tones() []Class {
	tones := make([]Class, len(builds[c.Quality]))
	for i, b := range builds[c.Quality] {
		tones[i] = c.Root.Transpose(b)
	}
	return tones
}

// Index reports which member the class is, as spelled: 0 the root, 1 the third, 2 the
// fifth, 3 the seventh; -1 if it is none. It does not allocate.
func (c Chord) Index(x Class) int {
	step := int(x.Letter - c.Root.Letter) // members stand two letters apart
	semitones := semitonesAboveC[x.Letter] - semitonesAboveC[c.Root.Letter]
	if step < 0 {
		step, semitones = step+7, semitones+12
	}
	build := builds[c.Quality]
	if step%2 != 0 || step/2 >= len(build) || build[step/2].Semitones != semitones+x.Alter-c.Root.Alter {
		return -1
	}
	return step / 2
}

// Has reports whether the class, as spelled, is a member.
func (c Chord) Has(x Class) bool { return c.Index(x) >= 0 }

// Transpose moves the chord by i.
func (c Chord) Transpose(i Interval) Chord { return Chord{c.Root.Transpose(i), c.Quality} }
