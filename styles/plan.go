package styles

import (
	"fmt"
	"strings"
)

// A Phrase is one phrase of a plan, four measures long unless it is stretched.
type Phrase struct {
	Letter string // the material: "a", "b" ...
	// Return says how the phrase takes up earlier material of its letter.
	Return  Return
	Cadence string // "half", "open", "close" or "on" (runs on)
}

// A Return is how a phrase derives from the earlier one of its letter.
type Return int

// The ways a phrase derives from an earlier one.
const (
	New    Return = iota // the letter's first time
	Again                // note for note, up to the cadence
	Varied               // opens alike, ends otherwise
	Alike                // same rhythm and shapes at other pitches: a sequence
	Head                 // its first measure moved, and moved again, then on to the cadence
)

// ParsePlan reads a phrase plan such as "a>half b>open a>half c>close": phrases of
// four measures, each a letter and a cadence. A letter that stood before returns
// note for note; with ' it opens alike and ends otherwise; with ~ it takes up rhythm
// and shapes at other pitches; with ^ it makes something of the opening measure. The
// letters known stood before the plan.
func ParsePlan(s string, known ...string) ([]Phrase, error) {
	var plan []Phrase
	seen := map[string]bool{}
	for _, l := range known {
		seen[l] = true
	}
	for _, w := range strings.Fields(s) {
		name, cadence, ok := strings.Cut(w, ">")
		p := Phrase{Letter: strings.TrimRight(name, "'~^"), Cadence: cadence}
		switch {
		case !ok || p.Letter == "" || len(name)-len(p.Letter) > 1:
			return nil, fmt.Errorf("phrase %q: write a letter, ' or ~ or ^ for a return, and >cadence, as in a'>close", w)
		case cadence != "half" && cadence != "open" && cadence != "close" && cadence != "on":
			return nil, fmt.Errorf("phrase %q: cadence %q is not half, open, close or on", w, cadence)
		case !seen[p.Letter] && name != p.Letter:
			return nil, fmt.Errorf("phrase %q: %s has not stood before, so it cannot return", w, p.Letter)
		case strings.HasSuffix(name, "'"):
			p.Return = Varied
		case strings.HasSuffix(name, "~"):
			p.Return = Alike
		case strings.HasSuffix(name, "^"):
			p.Return = Head
		case seen[p.Letter]:
			p.Return = Again
		}
		seen[p.Letter] = true
		plan = append(plan, p)
	}
	if len(plan) == 0 {
		return nil, fmt.Errorf("plan %q has no phrases", s)
	}
	return plan, nil
}
