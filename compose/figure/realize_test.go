package figure

import (
	"fmt"
	"strings"
	"testing"

	"onward/theory"

	"pgregory.net/rapid"
)

func key(t testing.TB, s string) theory.Key {
	t.Helper()
	k, err := theory.ParseKey(s)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func chord(t testing.TB, s string) theory.Chord {
	t.Helper()
	for q := theory.MajorTriad; q <= theory.MajorSeventhChord; q++ {
		if root, ok := strings.CutSuffix(s, q.String()); ok {
			if c, err := theory.ParseClass(root); err == nil {
				return theory.Chord{Root: c, Quality: q}
			}
		}
	}
	t.Fatalf("chord %q", s)
	return theory.Chord{}
}

func names(pitches []theory.Pitch) string { return strings.Trim(fmt.Sprint(pitches), "[]") }

// Common practice throughout: melodic minor, the leading tone over the dominant,
// chromatic spelling by direction, the members of the dominant seventh.
func TestRealize(t *testing.T) {
	for _, tt := range []struct{ moves, start, key, chord, want string }{
		{"1 1 1 1 1 1 1", "Bb3", "Bb", "Bb", "Bb3 C4 D4 Eb4 F4 G4 A4 Bb4"},
		{"-1 -1 -1", "C5", "D", "D", "C5 B4 A4 G4"},
		{"2 -1 2", "C4", "C", "C", "C4 E4 D4 F4"},
		{"7 -7", "F#4", "G", "D", "F#4 F#5 F#4"},
		{"1 1 1", "G4", "C minor", "Cm", "G4 A4 B4 C5"},
		{"-1 -1 -1", "C5", "C minor", "Cm", "C5 Bb4 Ab4 G4"},
		{"1 1 1", "G4", "C minor", "G7", "G4 A4 B4 C5"},
		{"-1 -1 -1", "C5", "C minor", "G7", "C5 B4 A4 G4"},
		{"1 1", "G4", "C minor", "Cm", "G4 A4 B4"},
		{"1 1 -1", "G4", "C minor", "Cm", "G4 Ab4 Bb4 Ab4"},
		{"1 -1", "G4", "C minor", "Cm", "G4 Ab4 G4"},
		{"-1 1", "C5", "C minor", "Fm", "C5 B4 C5"},
		{"1 1", "Ab4", "C minor", "Fm", "Ab4 Bb4 C5"},
		{"1 1", "Ab4", "C minor", "G7", "impossible"},
		{"1 1 1", "G4", "C minor", "Eb", "G4 Ab4 Bb4 C5"},
		{"1 1 1", "D4", "C", "D7", "D4 E4 F#4 G4"},
		{"-1 -1 -1", "C5", "C", "C7", "C5 Bb4 A4 G4"},
		{"1 1 1", "E4", "C", "E7", "E4 F#4 G#4 A4"},
		{"-1 -1 -1", "A4", "C", "E7", "A4 G#4 F#4 E4"},
		{"c1 c1 c1", "C4", "C", "C", "C4 E4 G4 C5"},
		{"c1 c1 c1", "G4", "C", "G7", "G4 B4 D5 F5"},
		{"c-1 c-1 c-1", "F5", "C", "G7", "F5 D5 B4 G4"},
		{"c2 c1", "Bb3", "Bb", "Bb", "Bb3 F4 Bb4"},
		{"c-1 c2 c-1", "C4", "F", "F", "C4 A3 F4 C4"},
		{"c1", "D4", "C", "C", "impossible"},
		{"1 c1", "C4", "C", "C", "impossible"},
		{"-1 1 c1", "F4", "F", "F", "F4 E4 F4 A4"},
		{"h-1 h1", "G4", "C", "C", "G4 F#4 G4"},
		{"h-1 h1", "Eb4", "Bb", "Eb", "Eb4 D4 Eb4"},
		{"h1 h-1", "Bb3", "Bb", "Bb", "Bb3 Cb4 Bb3"},
		{"h1", "Fb4", "Cb", "Cb", "impossible"},
		{"k1 k1 k1 k1 k1 k1 k1 k1 k1 k1 k1 k1", "C4", "C", "C", "C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4 A#4 B4 C5"},
		{"k-1 k-1 k-1 k-1 k-1 k-1 k-1 k-1 k-1 k-1 k-1 k-1", "C5", "C", "C", "C5 B4 Bb4 A4 Ab4 G4 Gb4 F4 E4 Eb4 D4 Db4 C4"},
		{"k1 k1 k1", "Bb3", "Bb", "Bb", "Bb3 B3 C4 C#4"},
		{"k-1 k-1 k-1", "C5", "Bb", "F", "C5 B4 Bb4 A4"},
		{"k1 k1", "E4", "D", "A", "E4 F4 F#4"},
		{"k1 k1", "D#4", "F#", "B", "D#4 E4 E#4"},
	} {
		moves, err := ParseMoves(tt.moves)
		if err != nil {
			t.Fatal(err)
		}
		s := Shape{Moves: moves}
		pitches, ok := s.Realize(theory.MustPitch(tt.start), Context{key(t, tt.key), chord(t, tt.chord)}, nil)
		got := names(pitches)
		if !ok {
			got = "impossible"
		}
		if got != tt.want {
			t.Errorf("%s from %s in %s over %s: got %s, want %s", tt.moves, tt.start, tt.key, tt.chord, got, tt.want)
		}
	}
}

// B-flat concert F7 is written G B D F for a treble-clef B-flat player: common
// practice.
func TestDominantSeventhWantsItsChordAndRoot(t *testing.T) {
	s := Default().Shape("dominant seventh up")
	for _, tt := range []struct{ start, chord, want string }{
		{"G4", "G7", "G4 B4 D5 F5"}, {"G4", "G", ""}, {"B4", "G7", ""},
	} {
		got, _ := s.Realize(theory.MustPitch(tt.start), Context{theory.Key{}, chord(t, tt.chord)}, nil)
		if names(got) != tt.want {
			t.Errorf("from %s over %s: got %s, want %s", tt.start, tt.chord, names(got), tt.want)
		}
	}
}

func TestMatches(t *testing.T) {
	for _, tt := range []struct {
		shape, pitches, key string
		want                bool
	}{
		{"five up", "C4 D4 E4 F4 G4", "C", true},
		{"five up", "C4 D4 E4 F4 G#4", "C", false}, // an augmented second
		{"five up", "D4 E4 F#4 G4 A4", "C", true},  // over an applied dominant
		{"triad up", "C4 E4 G4", "F", true},
		{"triad up", "E4 G4 C5", "C", true},
		{"triad up", "C4 E4 B4", "C", false},
		{"triad up to the octave", "C4 E4 G4 Bb4", "C", false},
		{"dominant seventh up", "C4 E4 G4 Bb4", "F", true},
		{"dominant seventh up", "C4 E4 G4 C5", "F", false},
		{"triad up without the third", "C4 G4 C5", "C", true},
		{"triad up without the third", "G3 E4 G4", "C", false},
		{"chromatic lower neighbour", "G4 F#4 G4", "C", true},
		{"chromatic lower neighbour", "G4 F4 G4", "C", false},
		{"lower neighbour", "G4 F4 G4", "C", true},
		{"chromatic three up", "G4 G#4 A4", "C", true},
		{"repeated three", "G4 G4", "C", false},
		{"three up", "G#4 A4 B4", "C", true},
		{"three up", "C##4 D#4 E#4", "F#", true}, // the same
		{"three up", "C##4 D#4 F#4", "F#", false},
		{"chromatic lower neighbour", "G#4 F##4 G#4", "F#", true}, // Realize makes none, but a page may
	} {
		var pitches []theory.Pitch
		for _, p := range strings.Fields(tt.pitches) {
			pitches = append(pitches, theory.MustPitch(p))
		}
		if got := Default().Shape(tt.shape).Matches(pitches, key(t, tt.key)); got != tt.want {
			t.Errorf("%s matches %s in %s: %v, want %v", tt.shape, tt.pitches, tt.key, got, tt.want)
		}
	}
}

// contexts are all keys with the chords of a piece in them: every quality on every
// degree, natural and raised or lowered.
func context(t *rapid.T) Context {
	k := theory.Key{Fifths: rapid.IntRange(-7, 7).Draw(t, "fifths"), Mode: theory.Mode(rapid.IntRange(0, 1).Draw(t, "mode"))}
	root := k.Degree(rapid.IntRange(1, 7).Draw(t, "degree"))
	root.Alter += rapid.IntRange(-1, 1).Draw(t, "raised")
	return Context{k, theory.Chord{Root: root, Quality: theory.Quality(rapid.IntRange(0, 8).Draw(t, "quality"))}}
}

func TestRealizedShapesMatch(t *testing.T) {
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		in := context(t)
		start := in.Key.At(rapid.IntRange(20, 40).Draw(t, "step"))
		start.Alter += rapid.IntRange(-1, 1).Draw(t, "start")
		prefix := []theory.Pitch{theory.MustPitch("C4")}
		for i := range Default().Shapes {
			s := &Default().Shapes[i]
			out, ok := s.Realize(start, in, prefix)
			if !ok {
				if len(out) != 1 {
					t.Fatalf("%s: refused, but left %s", s.Name, names(out))
				}
				continue
			}
			made++
			if out = out[1:]; !s.Matches(out, in.Key) {
				t.Fatalf("%s from %s in %s over %s: %s does not match", s.Name, start, in.Key, in.Chord, names(out))
			}
			for j, p := range out {
				if p.Alter < -1 || p.Alter > 1 {
					t.Fatalf("%s: %s has a double accidental", s.Name, names(out))
				}
				if j > 0 && s.Moves[j-1].Unit == ChordTone && !in.Chord.Has(p.Class()) {
					t.Fatalf("%s: %s leaves the chord %s", s.Name, names(out), in.Chord)
				}
			}
		}
	})
	if made < 1000 {
		t.Errorf("only %d shapes realized", made)
	}
}

// In every major key, every shape can be made over the tonic or the dominant seventh,
// from some note of two octaves.
func TestEveryShapeStandsInEveryKey(t *testing.T) {
	for fifths := -6; fifths <= 6; fifths++ {
		k := theory.Key{Fifths: fifths}
		for i := range Default().Shapes {
			s, found := &Default().Shapes[i], false
			for _, c := range []theory.Chord{{Root: k.Degree(1)}, {Root: k.Degree(5), Quality: theory.DominantSeventh}} {
				for step := 21; step < 35; step++ {
					_, ok := s.Realize(k.At(step), Context{k, c}, nil)
					found = found || ok
				}
			}
			if !found {
				t.Errorf("%s: nowhere in %s", s.Name, k)
			}
		}
	}
}

func TestRealizeAllocatesNothing(t *testing.T) {
	buf := make([]theory.Pitch, 0, 32)
	in := Context{theory.Key{Fifths: -3, Mode: theory.Minor}, chord(t, "G7")}
	if n := testing.AllocsPerRun(10, func() {
		for i := range Default().Shapes {
			Default().Shapes[i].Realize(theory.MustPitch("G4"), in, buf)
		}
	}); n > 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkRealize(b *testing.B) {
	buf := make([]theory.Pitch, 0, 32)
	in := Context{theory.Key{Fifths: -3, Mode: theory.Minor}, chord(b, "G7")}
	s, start := Default().Shape("octave scale up"), theory.MustPitch("G4")
	b.ReportAllocs()
	for b.Loop() {
		s.Realize(start, in, buf)
	}
}
