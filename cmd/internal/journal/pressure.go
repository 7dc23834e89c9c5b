package journal

import (
	"fmt"
	"slices"
	"strings"
)

// The kinds of pressure that a take may be played under.
const (
	Panel   = "panel"    // marked once and for all
	Cover   = "cover"    // what is played is covered
	DropOut = "drop-out" // the band drops out for measures
	Cold    = "cold"     // no look-over
	Company = "company"  // another part beside the player
)

// pressures lists the kinds in the order in which they are kept.
var pressures = []string{Panel, Cover, DropOut, Cold, Company}

// checkPercent refuses a tempo that no take can have; 0 stands for 100.
func checkPercent(percent int) (int, error) {
	switch {
	case percent == 0:
		return 100, nil
	case percent < 25 || percent > 100:
		return 0, fmt.Errorf("%d %% of the page's tempo: want 25 to 100", percent)
	}
	return percent, nil
}

// joinPressure writes kinds of pressure for the file.
func joinPressure(kinds []string) (string, error) {
	for _, k := range kinds {
		if !slices.Contains(pressures, k) {
			return "", fmt.Errorf("pressure %q: want one of %s", k, strings.Join(pressures, ", "))
		}
	}
	var kept []string
	for _, p := range pressures {
		if slices.Contains(kinds, p) {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, ","), nil
}

// splitPressure reads what joinPressure wrote.
func splitPressure(kept string) []string {
	if kept == "" {
		return nil
	}
	return strings.Split(kept, ",")
}

// hasPressure says whether a kind is among those kept.
func hasPressure(kept, kind string) bool { return slices.Contains(splitPressure(kept), kind) }
