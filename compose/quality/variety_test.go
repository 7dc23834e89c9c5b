package quality_test

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"onward/compose"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// snippets is how many reads variety is looked for in.
const snippets = 1000

// shareWanted is the largest share of its measures that a read may have in common with
// another.
const shareWanted = 0.3

// BenchmarkVariety makes many snippets of one rung in a row, each remembering those
// before it as the journal would; see the package's words.
func BenchmarkVariety(b *testing.B) {
	count := numberFrom(b, "ONWARD_READS", snippets)
	all, rungs := stylesFrom(b), rungsFrom(b, 6)
	var found []*variety
	for b.Loop() {
		found = nil
		for _, rung := range rungs {
			found = append(found, varieties(b, all, rung, count)...)
		}
	}
	for _, v := range found {
		fmt.Print(v, usageOf(b, v.style, v.rung, min(count, 400)))
		name := fmt.Sprintf("%s-r%d", v.style, v.rung)
		b.ReportMetric(100*v.pairs[0].worst, name+"-shared-%")
		b.ReportMetric(v.legal[0], name+"-least-log10")
		b.ReportMetric(float64(len(v.refused)), name+"-refused")
	}
}

// varieties makes the reads of each style, styles beside each other.
func varieties(tb testing.TB, all []string, rung, count int) []*variety {
	tb.Helper()
	found := make([]*variety, len(all))
	var group sync.WaitGroup
	for i, style := range all {
		w := world(tb)
		group.Go(func() { found[i] = newVariety(&w, style, rung, count) })
	}
	group.Wait()
	for i, v := range found {
		if v.err == nil && len(v.seeds) < 2 {
			v.err = fmt.Errorf("%d of %d reads were made: %v", len(v.seeds), count, v.refused)
		}
		if v.err != nil {
			tb.Fatalf("%s, rung %d: %v", all[i], rung, v.err)
		}
	}
	return found
}

// A shelf remembers reads as the journal does; it is a compose.Seen and compose.Measures.
type shelf struct {
	hashes map[uint64]bool
	runs   map[uint64][][]int8
	having map[uint64][]int // the reads that have a measure, in order
	reads  int
	asked  int // how often it was asked for measures
}

func newShelf() *shelf {
	return &shelf{hashes: map[uint64]bool{}, runs: map[uint64][][]int8{}, having: map[uint64][]int{}}
}

// Shared implements compose.Measures.
func (s *shelf) Shared(measures []uint64) ([]uint64, error) {
	s.asked++
	best, count := -1, map[int]int{}
	for _, m := range measures {
		for _, read := range s.having[m] {
			count[read]++
		}
	}
	for read, n := range count {
		if best < 0 || n > count[best] || n == count[best] && read > best {
			best = read
		}
	}
	var out []uint64
	for _, m := range measures {
		if _, ok := slices.BinarySearch(s.having[m], best); ok {
			out = append(out, m)
		}
	}
	return out, nil
}

// Seen implements compose.Seen.
func (s *shelf) Seen(_ int, hashes []uint64) (map[uint64]bool, error) {
	found := map[uint64]bool{}
	for _, h := range hashes {
		if s.hashes[h] {
			found[h] = true
		}
	}
	return found, nil
}

// WithRhythm implements compose.Seen.
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

func (s *shelf) add(runs []compose.Run, measures []uint64) {
	slices.Sort(measures)
	for _, m := range slices.Compact(measures) {
		s.having[m] = append(s.having[m], s.reads)
	}
	s.reads++
	for _, r := range runs {
		if !s.hashes[r.Hash] {
			s.hashes[r.Hash] = true
			s.runs[r.Rhythm] = append(s.runs[r.Rhythm], r.Intervals)
		}
	}
}

// recentReads is how many of the latest reads go into the sampler at once, as in cmd/onward.
const recentReads = 50

// A variety is what many reads have in common.
type variety struct {
	style       string
	rung, reads int
	pairs       [len(samenesses)]sharing
	seeds       []uint64       // of the reads that were made
	refused     []string       // those that were not, and why
	commonest   map[string]int // in how many reads a measure stands
	legal       []float64      // log10 of the legal melodies, in order
	own         float64        // the largest share of its own measures that one earlier read has
	crowded     int            // reads that have a larger one than is wanted, and say so
	loosened    int            // reads that say that some plan was not kept
	asked       int            // how often measures were asked for
	err         error
}

// The ways of calling two measures the same.
var samenesses = [3]string{"note for note", "wherever it stands", "the same, of three notes or more"}

// newVariety makes the reads, seeds 1 and on.
func newVariety(w *compose.World, style string, rung, count int) *variety {
	v := &variety{style: style, rung: rung, reads: count, commonest: map[string]int{}}
	req, err := snippetOf(style, rung)
	if err != nil {
		v.err = err
		return v
	}
	mem := newShelf()
	w.Seen, w.Measures = mem, mem
	lengths := w.Ladder.Runs()
	var recent [][]compose.Line
	var texts [len(samenesses)][][]string
	for seed := range uint64(count) {
		req.Seed = seed + 1
		w.Recent = slices.Concat(recent...)
		r, err := compose.Compose(w, req)
		var refusal *compose.RequestError
		if errors.As(err, &refusal) {
			v.refused = append(v.refused, fmt.Sprintf("seed %d: %v", req.Seed, err))
			continue
		}
		if err != nil {
			v.err = fmt.Errorf("seed %d: %w", req.Seed, err)
			return v
		}
		part := &r.Score.Parts[0]
		mem.add(compose.Runs(part, lengths), compose.MeasuresOf(part))
		v.crowds(r)
		recent = append([][]compose.Line{compose.Lines(part, slices.Max(lengths)-1)}, recent[:min(len(recent), recentReads-1)]...)
		v.legal, v.seeds = append(v.legal, r.LegalLog10), append(v.seeds, req.Seed)
		for k, t := range measureTexts(melodyOf(part)) {
			texts[k] = append(texts[k], t)
		}
		for _, text := range slices.Compact(slices.Sorted(slices.Values(texts[0][len(v.seeds)-1]))) {
			v.commonest[text]++
		}
	}
	v.asked = mem.asked
	slices.Sort(v.legal)
	for k := range texts {
		v.pairs[k] = sharingOf(texts[k])
	}
	return v
}

// crowds takes the certificate's count of shared measures in.
func (v *variety) crowds(r *compose.Read) {
	own := float64(r.Certificate.Shared) / float64(r.Certificate.Measures)
	v.own = max(v.own, own)
	if own > shareWanted {
		v.crowded++
	}
	if len(r.Loosened) > 0 {
		v.loosened++
	}
}

// snippetOf is the request of a snippet, its seed left open.
func snippetOf(style string, rung int) (compose.Request, error) {
	sheet, err := styles.Shipped(style)
	if err != nil {
		return compose.Request{}, err
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	return compose.Request{Style: sheet, Rung: rung, Instrument: in, Form: "snippet"}, err
}

// measureTexts spells every sounding measure in the three ways of being the same.
func measureTexts(m *melody) [len(samenesses)][]string {
	var out [len(samenesses)][]string
	for i := range m.measures {
		g := &m.measures[i]
		if len(g.tones) == 0 {
			continue
		}
		exact, moved := meterName(g.meter), meterName(g.meter) // then at which quarter, how many, what
		first := m.tones[g.tones[0]].pitch.MIDI()
		for _, k := range g.tones {
			t := m.tones[k]
			at := fmt.Sprintf(" %s+%s:", quarters(rhythm.Duration(t.at)), quarters(t.length))
			exact += at + fmt.Sprint(t.pitch)
			moved += at + fmt.Sprint(t.pitch.MIDI()-first)
		}
		out[0], out[1] = append(out[0], exact), append(out[1], moved)
		if len(g.tones) >= 3 {
			out[2] = append(out[2], moved)
		} else {
			out[2] = append(out[2], "") // counts as a measure, and as no other's like
		}
	}
	return out
}

// A sharing is how much pairs of reads have in common.
type sharing struct {
	worst float64 // the largest share of the shorter one's measures
	pair  [2]int  // whose, counted from 0
	over  int     // pairs beyond shareWanted
	mean  float64
	pairs int
}

// sharingOf compares every pair.
func sharingOf(texts [][]string) sharing {
	ids := map[string]int{"": 0}
	reads := make([][]int, len(texts))
	for i, t := range texts {
		for _, text := range t {
			id, ok := ids[text]
			if !ok {
				id = len(ids)
				ids[text] = id
			}
			reads[i] = append(reads[i], id)
		}
		slices.Sort(reads[i])
	}
	var s sharing
	for i := range reads {
		for j := range i {
			x := float64(common(reads[i], reads[j])) / float64(max(1, min(len(reads[i]), len(reads[j]))))
			s.pairs++
			s.mean += x
			if x > shareWanted {
				s.over++
			}
			if x > s.worst {
				s.worst, s.pair = x, [2]int{j, i}
			}
		}
	}
	s.mean /= float64(max(s.pairs, 1))
	return s
}

// common counts what two lists in order have in common, each as often as both have it; 0
// is no measure.
func common(a, b []int) int {
	n := 0
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] < b[j]:
			i++
		case a[i] > b[j]:
			j++
		default:
			if a[i] != 0 {
				n++
			}
			i, j = i+1, j+1
		}
	}
	return n
}

// String lays the findings out.
func (v *variety) String() string {
	var s strings.Builder
	fmt.Fprintf(&s, "\n%s, rung %d: %d snippets in a row, %d refused\n", v.style, v.rung, v.reads, len(v.refused))
	for _, r := range v.refused[:min(3, len(v.refused))] {
		fmt.Fprintf(&s, "  refused: %s\n", r)
	}
	for k, p := range v.pairs {
		verdict := "as wanted"
		if p.worst > shareWanted {
			verdict = fmt.Sprintf("OVER %.0f %%", 100*shareWanted)
		}
		fmt.Fprintf(&s, "  measures shared, %-34s at most %3.0f %% (seeds %d and %d), %s; %d of %d pairs over; mean %.2f %%\n",
			samenesses[k]+":", 100*p.worst, v.seeds[p.pair[0]], v.seeds[p.pair[1]], verdict, p.over, p.pairs, 100*p.mean)
	}
	fmt.Fprintf(&s, "  of its own measures a read shares with an earlier one at most %.0f %%; %d reads share more than wanted; measures asked for %.2f times a read; %d reads loosened\n",
		100*v.own, v.crowded, float64(v.asked)/float64(len(v.seeds)), v.loosened)
	names := slices.SortedFunc(maps.Keys(v.commonest), func(a, b string) int {
		return cmp.Or(v.commonest[b]-v.commonest[a], cmp.Compare(a, b))
	})
	for _, name := range names[:min(5, len(names))] {
		fmt.Fprintf(&s, "  in %4.1f %% of reads: %s\n", 100*float64(v.commonest[name])/float64(v.reads), name)
	}
	n := len(v.legal)
	fmt.Fprintf(&s, "  legal melodies, log10: least %.1f, median %.1f, most %.1f\n", v.legal[0], v.legal[n/2], v.legal[n-1])
	return s.String()
}

// normalTail reports the probability that a standard normal is over z.
func normalTail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// chiSquareTail reports the probability of a chi-square over x with df degrees of freedom,
// by the cube-root approximation (Wilson and Hilferty 1931).
func chiSquareTail(x, df float64) float64 {
	if df <= 0 {
		return math.NaN()
	}
	spread := 2 / (9 * df)
	return normalTail((math.Cbrt(x/df) - (1 - spread)) / math.Sqrt(spread))
}
