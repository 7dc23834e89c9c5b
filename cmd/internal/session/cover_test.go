package session

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// measuresOf lays measures of one or two beats in the order given, a second to the beat,
// behind a count-in of two beats.
func measuresOf(order string, of int) (beats []Beat) {
	at := time.Duration(0)
	add := func(measure, of int) {
		for beat := range of {
			beats = append(beats, Beat{At: at, Measure: measure, Beat: beat + 1, Of: of})
			at += time.Second
		}
	}
	add(-1, 2)
	for _, word := range strings.Fields(order) {
		var m int
		fmt.Sscan(word, &m)
		add(m, of)
	}
	return beats
}

// picture shows the page: a digit for a measure to be seen, a dash for one that is hidden.
func picture(covered []bool) string {
	var b strings.Builder
	for i, c := range covered {
		if c {
			b.WriteByte('-')
		} else {
			fmt.Fprint(&b, i%10)
		}
	}
	return b.String()
}

func TestCovered(t *testing.T) {
	for _, c := range []struct {
		name, order, want string // want for each measure as it is played
		measures          int
	}{
		{"straight on", "0 1 2 3", "0123 -123 --23 ---3", 4},
		{"a repeat", "0 1 2 0 1 2 3", "0123 -123 0123 0123 -123 --23 ---3", 4},
		{"two endings", "0 1 2 0 1 3 4", "01234 -1234 01234 01-34 -1-34 ---34 ----4", 5},
		{"a repeat within", "0 1 2 3 2 3 4", "01234 -1234 --234 --234 --234 ---34 ----4", 5},
		{"one measure twice", "0 1 1 2", "012 -12 -12 --2", 3},
		{"one measure twice, then back", "0 1 1 0 1 2", "012 -12 012 012 -12 --2", 3},
		{"da capo to a fine", "0 1 2 3 0 1", "0123 -123 --23 01-3 01-- -1--", 4},
		{"a coda", "0 1 2 3 0 1 4", "01234 -1234 --234 01-34 01--4 -1--4 ----4", 5},
		{"an upbeat without a beat", "1 2 3", "0123 --23 ---3", 4},
		{"an upbeat without a beat, repeated", "1 2 1 2 3", "0123 0123 0123 --23 ---3", 4},
		{"a last measure without a beat", "0 1", "012 -12", 3},
	} {
		for of := 1; of <= 2; of++ {
			beats := measuresOf(c.order, of)
			if got := picture(Covered(beats, 1999*time.Millisecond, c.measures)); strings.Contains(got, "-") {
				t.Errorf("%s: in the count-in %s is hidden", c.name, got)
			}
			var got []string
			for i := 2; i < len(beats); i += of {
				first := picture(Covered(beats, beats[i].At, c.measures))
				last := picture(Covered(beats, beats[i+of-1].At+999*time.Millisecond, c.measures))
				if first != last {
					t.Errorf("%s: measure %d: %s turns into %s while it is played", c.name, beats[i].Measure, first, last)
				}
				got = append(got, first)
			}
			if all := strings.Join(got, " "); all != c.want {
				t.Errorf("%s, played %s in %d:\n got %s\nwant %s", c.name, c.order, of, all, c.want)
			}
		}
	}
}

// At no moment of any way through five measures is the measure being played hidden, or
// the next; and what lies behind is, but where the take is about to go back.
func TestCoverNeverHidesWhatIsPlayed(t *testing.T) {
	const measures, length = 5, 6
	ways, hidden := 0, 0
	for code := range pow(measures, length) {
		var words []string
		for i, rest := 0, code; i < length; i, rest = i+1, rest/measures {
			words = append(words, fmt.Sprint(rest%measures))
		}
		order := strings.Join(words, " ")
		beats := measuresOf(order, 2)
		ways++
		for k := 2; k < len(beats); k++ {
			covered := Covered(beats, beats[k].At, measures)
			if covered[beats[k].Measure] {
				t.Fatalf("%s: measure %d is hidden as it is played", order, beats[k].Measure)
			}
			if k+2 < len(beats) && covered[beats[k+2].Measure] {
				t.Fatalf("%s: measure %d is hidden, which comes after %d", order, beats[k+2].Measure, beats[k].Measure)
			}
			for _, c := range covered {
				if c {
					hidden++
				}
			}
		}
	}
	if ways != 15625 || hidden < ways {
		t.Errorf("%d ways, %d measures hidden", ways, hidden)
	}
}

func pow(n, to int) int {
	p := 1
	for range to {
		p *= n
	}
	return p
}

func TestCoverOfNoTake(t *testing.T) {
	if got := picture(Covered(nil, time.Second, 3)); got != "012" {
		t.Errorf("without beats: %s", got)
	}
	beats := []Beat{{Measure: 7}, {At: 1, Measure: 1}}
	if got := picture(Covered(beats, 5, 3)); got != "012" {
		t.Errorf("with a measure that is not on the page: %s", got)
	}
}
