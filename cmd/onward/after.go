package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"onward/midi/live"
)

// after says, when the take is over, what to watch next time.
func (r *reading) after(m *made, roll *live.Roll, report live.Report) {
	var b strings.Builder
	b.WriteString("\nThe end. The band kept going; what you missed is only what to look at next:\n")
	for _, t := range m.Traps {
		field(&b, "trap", fmt.Sprintf("measure %d starts like %q and leaves it: %s", printed(&m.Score.Parts[0], t.Measure), t.Like, t.Words))
	}
	field(&b, "most in", densest(m))
	if len(m.Fresh) > 0 {
		field(&b, "was new", strings.Join(m.Fresh, "; "))
	}
	if words := restWords(m); words != "" {
		field(&b, "the band", words)
	}
	tellBand(&b, roll, report)
	field(&b, "rest", fmt.Sprintf("as long as you played, %v; where it hurts, stop", roll.End.Round(time.Second)))
	if r.o.Panel {
		field(&b, "panel", "one take, and this was it. Mark what slipped before you play the page again")
	} else {
		fmt.Fprintf(&b, "%-*s%s\n", fieldWidth, "again", r.againCommand("read", m, r.more...))
	}
	io.WriteString(r.out, b.String())
}

// denseMeasures is how many measures are named as those with most in them.
const denseMeasures = 3

// densest names the measures of the highest load, the highest first.
func densest(m *made) string {
	var order []int
	for i := range m.Load {
		if !m.Score.Parts[0].Measures[i].Implicit { // an upbeat is soon over
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(m.Load[b], m.Load[a]) })
	var words []string
	for _, i := range order[:min(denseMeasures, len(order))] {
		words = append(words, fmt.Sprintf("measure %d (%.1f figures a second)", printed(&m.Score.Parts[0], i), m.Load[i]))
	}
	return strings.Join(words, ", ")
}
