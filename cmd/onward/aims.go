package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
)

// aimFlags gives the flags that say how much of a read is to be known.
func (o *requestOptions) aimFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Var(&aimedShare{&o.Coverage}, "coverage", "`SHARE` of the notes in figures that you know: 0.8 or 80% (known: --figures, else what lower rungs hold)")
	f.Var(&aimedCount{&o.Traps}, "traps", "`N` traps (from rung 7 on)")
	f.Var(&aimedCount{&o.New}, "new", "`N` kinds of figures that you do not know yet")
}

// An aimedShare is a flag's share of notes, nil where it is not given.
type aimedShare struct{ to **float64 }

// Set reads 0.8 or 80%.
func (s *aimedShare) Set(text string) error {
	digits, percent := strings.CutSuffix(text, "%")
	x, err := strconv.ParseFloat(digits, 64)
	if percent {
		x /= 100
	}
	if err != nil || !(x >= 0 && x <= 1) {
		return fmt.Errorf("write 0 to 1, or 0%% to 100%%")
	}
	*s.to = &x
	return nil
}

// String writes it as Set reads it.
func (s *aimedShare) String() string {
	if s.to == nil || *s.to == nil {
		return ""
	}
	return strconv.FormatFloat(**s.to, 'g', -1, 64)
}

// Type is the flag library's word for it.
func (s *aimedShare) Type() string { return "share" }

// An aimedCount is a flag's number, nil where it is not given.
type aimedCount struct{ to **int }

// Set reads 0 to 32.
func (c *aimedCount) Set(text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 32 {
		return fmt.Errorf("write 0 to 32")
	}
	*c.to = &n
	return nil
}

// String writes it as Set reads it.
func (c *aimedCount) String() string {
	if c.to == nil || *c.to == nil {
		return ""
	}
	return strconv.Itoa(**c.to)
}

// Type is the flag library's word for it.
func (c *aimedCount) Type() string { return "count" }

// aimsAgain lists the flags that aim so again.
func (o *requestOptions) aimsAgain() []string {
	var words []string
	for _, f := range []struct {
		name string
		flag fmt.Stringer
	}{{"--coverage", &aimedShare{&o.Coverage}}, {"--traps", &aimedCount{&o.Traps}}, {"--new", &aimedCount{&o.New}}} {
		if text := f.flag.String(); text != "" {
			words = append(words, f.name, text)
		}
	}
	return words
}

// aimWords says what the read has of what was aimed at: of traps only how many, for they
// are told after the take.
func aimWords(m *made) string {
	a := m.document.Aims
	if a == nil {
		return ""
	}
	var words []string
	if c := a.Coverage; c != nil {
		words = append(words, fmt.Sprintf("%.0f %% of the notes in known figures: it has %.0f %%", 100*c.Asked, 100*c.Had))
	}
	if c := a.Traps; c != nil {
		words = append(words, fmt.Sprintf("%s: it has %d", count(c.Asked, "trap"), c.Had))
	}
	if c := a.New; c != nil {
		words = append(words, fmt.Sprintf("%s: it has %d", count(c.Asked, "new figure"), c.Had))
		if len(a.Figures) > 0 {
			words[len(words)-1] += ", " + strings.Join(a.Figures, ", ")
		}
	}
	return strings.Join(words, "; ")
}
