package stand

import (
	"fmt"
	"strings"
)

// A Paper is what a printer is loaded with, upright; lengths are in millimetres.
type Paper struct {
	Name          string
	Width, Height float64
}

// The papers that pages are printed on (ISO 216; ANSI Y14.1, 8.5 by 11 inches).
var (
	A4     = Paper{"a4", 210, 297}
	Letter = Paper{"letter", 215.9, 279.4}
)

// ParsePaper reads the name of a paper: a4 or letter, in any case.
func ParsePaper(name string) (Paper, error) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(name, p.Name) {
			return p, nil
		}
	}
	return Paper{}, fmt.Errorf("paper %q: write a4 or letter", name)
}

// letterCountries print on Letter.
var letterCountries = map[string]bool{"US": true, "CA": true, "MX": true}

// PaperOf reports the paper that is usual where the environment says that the player is, by
// the first that is set of LC_ALL, LC_PAPER and LANG (POSIX: the order of locale variables).
// It is A4 where they name no country.
func PaperOf(getenv func(string) string) Paper {
	for _, name := range []string{"LC_ALL", "LC_PAPER", "LANG"} {
		locale := getenv(name)
		if locale == "" {
			continue
		}
		locale, _, _ = strings.Cut(locale, ".")
		locale, _, _ = strings.Cut(locale, "@")
		_, country, _ := strings.Cut(locale, "_")
		if letterCountries[strings.ToUpper(country)] {
			return Letter
		}
		break
	}
	return A4
}
