// Package critic judges whole melodies: how like real tunes one is, by a few linear weights
// over features of the whole. The weights were learned by telling real tunes from generated
// ones (fit.Critic), so they name what the generator does unlike real tunes, and must be
// learned anew when it changes.
package critic

import (
	"bufio"
	"bytes"
	_ "embed"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"onward/compose/tune"
)

// A Term is one feature with its weight.
type Term struct {
	Feature int     // an index into Names
	Mean    float64 // over the tunes that the weights were learned from
	Spread  float64 // the standard deviation over them, above 0
	Weight  float64 // of one standard deviation
}

// A Critic judges the melodies of one kind and meter.
type Critic struct {
	Kind  string   // "march" or "song"
	Meter string   // "2/4"
	Notes []string // what the weights were learned from, and how well they tell
	Bias  float64
	Terms []Term
}

// Score reports how like a real tune t is, as the logarithm of the odds that it is one; t
// has notes. Products are made float64 so that no machine joins them with a sum.
func (c *Critic) Score(t *tune.Tune) float64 {
	values, sum := Features(t), c.Bias
	for i := range c.Terms {
		term := &c.Terms[i]
		sum += float64(term.Weight * ((values[term.Feature] - term.Mean) / term.Spread))
	}
	return sum
}

// ScoreRhythm is Score by those features alone that do not hang on the pitches.
func (c *Critic) ScoreRhythm(t *tune.Tune) float64 {
	values, sum := Features(t), 0.0
	for i := range c.Terms {
		term := &c.Terms[i]
		if rhythmic[term.Feature] {
			sum += float64(term.Weight * ((values[term.Feature] - term.Mean) / term.Spread))
		}
	}
	return sum
}

// rhythmic says of each feature whether it hangs on the rhythm alone.
var rhythmic = func() []bool {
	out := make([]bool, len(names))
	for i, n := range names {
		group, rest, _ := strings.Cut(n, ".")
		about := func(words ...string) bool {
			return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(rest, w) })
		}
		out[i] = group == "rhythm" || about("rhythm", "density", "notes in measure") || group == "cadence" && about("note", "silence", "pickup")
	}
	return out
}()

// Critics are all critics of a file, with its head.
type Critics struct {
	Head    []string
	Critics []*Critic
}

// Of reports the critic of a kind and meter; nil where there is none.
func (all *Critics) Of(kind, meter string) *Critic {
	for _, c := range all.Critics {
		if c.Kind == kind && c.Meter == meter {
			return c
		}
	}
	return nil
}

// Write writes critics as Read reads them.
func (all *Critics) Write(w io.Writer) error {
	var b bytes.Buffer
	comment := func(lines []string) {
		for _, l := range lines {
			b.WriteString(strings.TrimRight("# "+l, " ") + "\n")
		}
	}
	comment(all.Head)
	for _, c := range all.Critics {
		fmt.Fprintf(&b, "\ncritic %s %s %.4f\n", c.Kind, c.Meter, c.Bias)
		comment(c.Notes)
		for _, t := range c.Terms {
			fmt.Fprintf(&b, "%.4f %.4f %.4f %s\n", t.Weight, t.Mean, t.Spread, names[t.Feature])
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// Read reads critics: for each a line "critic KIND METER BIAS", then lines of weight, mean,
// spread and the feature's name. What stands after # is a note. An error says the line.
func Read(r io.Reader) (*Critics, error) {
	all := &Critics{}
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		if err := all.read(strings.TrimSpace(lines.Text())); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
	}
	return all, lines.Err()
}

func (all *Critics) read(text string) error {
	var c *Critic
	if n := len(all.Critics); n > 0 {
		c = all.Critics[n-1]
	}
	note, isNote := strings.CutPrefix(text, "#")
	switch {
	case isNote && c == nil:
		all.Head = append(all.Head, strings.TrimSpace(note))
	case isNote:
		c.Notes = append(c.Notes, strings.TrimSpace(note))
	case strings.HasPrefix(text, "critic "):
		c = &Critic{}
		if _, err := fmt.Sscanf(text, "critic %s %s %g", &c.Kind, &c.Meter, &c.Bias); err != nil {
			return fmt.Errorf(`%q is not "critic KIND METER BIAS": %w`, text, err)
		}
		all.Critics = append(all.Critics, c)
	case text != "" && c == nil:
		return fmt.Errorf(`%q stands ahead of the first "critic KIND METER BIAS"`, text)
	case text != "":
		t, err := parseTerm(text)
		if err != nil {
			return err
		}
		c.Terms = append(c.Terms, t)
	}
	return nil
}

func parseTerm(text string) (Term, error) {
	var t Term
	words := strings.SplitN(text, " ", 4)
	if len(words) < 4 {
		return t, fmt.Errorf("%q is not weight, mean, spread and a feature's name", text)
	}
	if _, err := fmt.Sscanf(strings.Join(words[:3], " "), "%g %g %g", &t.Weight, &t.Mean, &t.Spread); err != nil {
		return t, fmt.Errorf("%q: weight, mean and spread are not numbers: %w", text, err)
	}
	if t.Feature = slices.Index(names, words[3]); t.Feature < 0 {
		return t, fmt.Errorf("there is no feature %q", words[3])
	}
	if !(t.Spread > 0) {
		return t, fmt.Errorf("the spread of %q is %g, which is not above 0", words[3], t.Spread)
	}
	return t, nil
}

//go:embed critics.txt
var shippedText []byte

var shipped = sync.OnceValues(func() (*Critics, error) { return Read(bytes.NewReader(shippedText)) })

// Shipped reports the critic of "march" or "song" in a meter, such as "2/4", that the program
// was shipped with. It is shared, and must not be changed.
func Shipped(kind, meter string) (*Critic, error) {
	all, err := shipped()
	if err != nil {
		return nil, fmt.Errorf("critics.txt: %w", err)
	}
	c := all.Of(kind, meter)
	if c == nil {
		return nil, fmt.Errorf("there is no critic of kind %q in %q", kind, meter)
	}
	return c, nil
}
