package figure

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/theory"

	"pgregory.net/rapid"
)

// Elias 1975: gamma(1) has 1 bit, gamma(2) and (3) 3, gamma(4) to (7) 5, gamma(8) to (15) 7.
func TestGammaBits(t *testing.T) {
	for steps, want := range map[int]int{0: 1, -1: 3, 1: 3, 2: 5, 3: 5, -3: 5, 4: 7, 7: 7, -7: 7, 8: 9} {
		if got := gammaBits(steps); got != want*bit {
			t.Errorf("%d steps: %d thousandths of a bit, want %d bits", steps, got, want)
		}
	}
	sum := 0.0 // a code: Kraft's sum is no more than 1
	for steps := -5000; steps <= 5000; steps++ {
		sum += math.Exp2(-float64(gammaBits(steps)) / bit)
	}
	if sum > 1 {
		t.Errorf("the code of steps is none: Kraft's sum is %v", sum)
	}
	page := 2 * math.Exp2(-float64(offScale)/bit)
	if sum := page + math.Exp2(-float64(onScale)/bit); sum > 1.0001 {
		t.Errorf("the code of the scale is none: Kraft's sum is %v", sum)
	}
	if sum := 3*math.Exp2(-float64(keyTriad)/bit) + 4*math.Exp2(-float64(keySeventh)/bit) + 31*math.Exp2(-float64(otherChord)/bit); sum > 1 {
		t.Errorf("the code of chords is none: Kraft's sum is %v", sum)
	}
}

// The urn's length is that of coding sign after sign by what came before, in any order.
func TestUrnCodesSignAfterSign(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	row := []int{0, 0, 0, 0, 1, 1, 2, 3, 3, 3}
	u := urn{newness: 8}
	for _, n := range []int{4, 2, 1, 3} {
		u.put(n)
	}
	for range 5 {
		r.Shuffle(len(row), func(i, j int) { row[i], row[j] = row[j], row[i] })
		came, bits := map[int]int{}, 0.0
		for i, x := range row {
			k := float64(came[x])
			if k == 0 {
				k = 8
			}
			bits += math.Log2((float64(i) + 8) / k)
			came[x]++
		}
		if got := float64(u.bits()) / bit; math.Abs(got-bits) > 0.01 {
			t.Errorf("%v: %v bits, sign after sign %v", row, got, bits)
		}
	}
}

// The way found to say a bar costs no more than any other.
func TestShortestWayToSayABar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := measure(t, 0, 0, 0, 1)
		s := newStudy(Default(), true)
		s.add(&p)
		s.name()
		b := &s.bars[0]
		for i := range s.symbols {
			s.symbols[i].price = rapid.IntRange(0, 12).Draw(t, "price") * bit
		}
		var least func(at int) int
		least = func(at int) int {
			if at >= len(b.points)-1 {
				return 0
			}
			best := s.symbols[silence].price
			if j := b.starts[at]; j >= 0 {
				best = s.symbols[loneNote].price + b.notes[j] + valueBits
			}
			best += least(at + 1)
			for _, w := range b.ways[at] {
				best = min(best, s.symbols[w.symbol].price+w.cost+least(w.to))
			}
			return best
		}
		s.say(b)
		if want := least(0); len(b.sounds) > 0 && b.cost != want {
			t.Errorf("%d, the least is %d, of %s", b.cost, want, score.Text(p))
		}
		cost := s.restOf(b)
		for _, n := range s.usesIn(b) {
			cost += s.symbols[n].price
		}
		if cost != b.cost {
			t.Errorf("the way costs %d, said to be %d", cost, b.cost)
		}
	})
}

// An exercise whose pattern is none of the catalogue's: a third up, a fourth down, a
// sixth up, a step down, from one note of the scale after another.
const odd = `key F; 4/4 F4:8 A4:8 E4:8 C5:8 Bb4:2 | G4:8 Bb4:8 F4:8 D5:8 C5:2 | A4:8 C5:8 G4:8 E5:8 D5:2 |
	Bb4:8 D5:8 A4:8 F5:8 E5:2 | F4:4 G4:4 A4:2 | C5:8 E5:8 Bb4:8 G5:8 F5:2 | D5:8 F5:8 C5:8 A5:8 G5:2 | F5:1 |`

func TestNewFigureIsFound(t *testing.T) {
	p := score.MustText(odd)
	l := Default().Study(&p)
	want := []Own{{"own 1", "2 -3 5 -1"}}
	if !reflect.DeepEqual(l.Own, want) {
		t.Fatalf("own shapes %v, want %v", l.Own, want)
	}
	if got, want := l.Own[0].Words(), "up a third, down a fourth, up a sixth, down a step"; got != want {
		t.Errorf("in words %q, want %q", got, want)
	}
	i, ok := l.find(Figure{"own 1", "four eighths, half"})
	if !ok || l.Figures[i].Count != 6 || l.Figures[i].Notes != 30 {
		t.Errorf("it was not learned six times: %s", counted(l.Vocabulary))
	}
	old := Default().study(false, []*score.Part{&p})
	if l.ByFigure >= old.ByFigure || l.ByNote != old.ByNote {
		t.Errorf("with the new figure %v bits, without %v", l.ByFigure, old.ByFigure)
	}
	once := score.MustText(strings.Join(strings.Split(odd, "|")[:1], "|") + "|")
	if l := Default().Study(&once); len(l.Own) > 0 {
		t.Errorf("what stands once is no figure: %v", l.Own)
	}
}

// A shape that has been named is known by its name, and goes through the file.
func TestNamedFigureIsKnown(t *testing.T) {
	p := score.MustText(odd)
	l, err := Default().Study(&p).Rename(Default(), map[string]string{"own 1": "lip bend"})
	if err != nil {
		t.Fatal(err)
	}
	v := l.Vocabulary
	if l.Meetings[0].Shape != "lip bend" {
		t.Errorf("met as %v", l.Meetings[0])
	}
	var file bytes.Buffer
	if err := WriteVocabulary(&file, v); err != nil {
		t.Fatal(err)
	}
	back, err := Default().ReadVocabulary(&file, "own.toml")
	if err != nil || !reflect.DeepEqual(back, v) {
		t.Fatalf("read back %+v, %v, want %+v", back, err, v)
	}
	with, err := Default().With(v.Own)
	if err != nil {
		t.Fatal(err)
	}
	moved := score.Transpose(p, theory.Interval{Steps: 1, Semitones: 2})
	l = with.Study(&moved)
	if len(l.Own) != 1 || l.Own[0] != (Own{"lip bend", "2 -3 5 -1"}) || !l.Knows(Figure{"lip bend", "four eighths, half"}) {
		t.Errorf("a step higher it is %v: %s", l.Own, counted(l.Vocabulary))
	}
	if found := with.RecognizeIn(&moved, &v); found[0].Shape != "lip bend" {
		t.Errorf("recognized as %v", found[0])
	}
	if with.Shape("lip bend").Level != 6 {
		t.Errorf("level %d, want that of a sixth", with.Shape("lip bend").Level)
	}
}

func TestRenameRefusals(t *testing.T) {
	p := score.MustText(odd)
	v := Default().Study(&p).Vocabulary
	for _, tt := range []struct{ old, new, want string }{
		{"own 2", "x", `"own 2" is no shape of your own here: there is own 1`},
		{"own 1", "four up", "the catalogue has a shape of this name"},
		{"own 1", "", "write 1 to 60 characters"},
		{"own 1", "a\nb", "control characters"},
	} {
		if _, err := v.Rename(Default(), map[string]string{tt.old: tt.new}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q to %q: got %v, want %s", tt.old, tt.new, err, tt.want)
		}
	}
}

// Own shapes of two vocabularies that have one name stay apart, and such that move alike
// become one.
func TestMergeOwnShapes(t *testing.T) {
	entry := func(shape string, n int) Entry {
		return Entry{Figure: Figure{shape, "four eighths"}, Count: n, Notes: 4 * n}
	}
	v := Vocabulary{Own: []Own{{"own 1", "2 -3 5"}, {"bend", "4 -4 4"}}, Figures: []Entry{entry("bend", 2), entry("own 1", 3)}}
	w := Vocabulary{Own: []Own{{"own 1", "4 -4 4"}, {"bend", "5 -2 2"}}, Figures: []Entry{entry("bend", 5), entry("own 1", 7)}}
	got := v.Merge(w)
	want := []Own{{"own 1", "2 -3 5"}, {"bend", "4 -4 4"}, {"bend (2)", "5 -2 2"}}
	if !reflect.DeepEqual(got.Own, want) {
		t.Errorf("own shapes %v, want %v", got.Own, want)
	}
	if figures := []Entry{entry("bend", 9), entry("bend (2)", 5), entry("own 1", 3)}; !reflect.DeepEqual(got.Figures, figures) {
		t.Errorf("figures %v, want %v", got.Figures, figures)
	}
	if _, err := Default().With(got.Own); err != nil {
		t.Error(err)
	}
}

// Moves along one chord that no catalogue shape makes are heard as such.
func TestChordMoves(t *testing.T) {
	for text, want := range map[string]string{
		"C4 G4 E4 E5": "c2 c-1 c3", "B3 D4 F4 G3": "c1 c1 c-3", "C4 C4 E4": "0 c1", "C4 D4 E4": "", "C4 C4": "",
	} {
		var pitches []theory.Pitch
		for _, w := range strings.Fields(text) {
			pitches = append(pitches, theory.MustPitch(w))
		}
		if got := formatMoves(chordMoves(pitches)); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}

// The same exercise in twelve keys, for five instruments that read other keys than they
// sound in, holds the same vocabulary at the same length.
func TestLearningIsKeyBlind(t *testing.T) {
	texts := []string{odd, drill, `key C; 2/4 C4:8 D4:8 E4:8 F4:8 | G4:8 F4:8 E4:8 D4:8 | C4:8 E4:8 G4:8 E4:8 | D4:8 E4:8 D4:4 |
		A4:8 G4:8 F4:8 E4:8 | D4:8 F4:8 A4:8 F4:8 | G4:8 A4:8 G4:4 | E4:4 C4:4 |`, `key C; 2/4 C4:8 D4:8 E4:8 F4:8 | G4:8 F4:8 E4:8 D4:8 | C4:8 E4:8 G4:8 E4:8 | D4:8 C#4:8 D4:4 |
		A4:8 G4:8 F4:8 E4:8 | D4:8 F4:8 A4:8 F4:8 | G4:8 F#4:8 G4:4 | E4:4 C4:4 |`}
	for _, text := range texts {
		p := score.MustText(text)
		home := *p.Measures[0].Key
		want := Default().Study(&p)
		want.Keys, want.Meetings = nil, nil
		for _, id := range []string{"trombone", "trumpet", "alto-sax", "horn", "flute"} {
			in, err := theory.InstrumentByID(id)
			if err != nil {
				t.Fatal(err)
			}
			for fifths := -6; fifths <= 5; fifths++ {
				by := theory.Between(home.Tonic().In(4), theory.Key{Fifths: fifths}.Tonic().In(4))
				written := score.Transpose(score.Transpose(p, by), in.Sounds.Neg())
				got := Default().Study(&written)
				if len(got.Keys) != 1 {
					t.Fatalf("keys %v", got.Keys)
				}
				key := got.Keys[0].Key
				got.Keys, got.Meetings = nil, nil
				if strings.Contains(text, "C#") { // a page's other names of such notes differ
					if counted(got.Vocabulary) != counted(want.Vocabulary) || got.ByFigure != want.ByFigure {
						t.Errorf("%s in written %s: %s, want %s", id, key, counted(got.Vocabulary), counted(want.Vocabulary))
					}
					continue
				}
				if !reflect.DeepEqual(got, want) {
					t.Errorf("%s in written %s: %s; %v bits; want %s; %v bits\n%s", id, key, counted(got.Vocabulary), got.ByFigure,
						counted(want.Vocabulary), want.ByFigure, score.Text(written))
				}
			}
		}
	}
}
