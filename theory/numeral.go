package theory

import (
	"fmt"
	"strings"
)

var numerals = []string{"vii", "iii", "vi", "iv", "ii", "v", "i"} // longest first where they share letters

var numeralDegree = map[string]int{"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7}

// Numeral reads a roman numeral as a chord of the key: "I", "ii", "V7", "viio",
// "IVmaj7", "iim7b5" and applied ones, "V7/V", "viio/ii". Capitals are major, small
// letters minor, "o" diminished. In minor V and viio stand on the raised seventh;
// "VII" is the natural one. "bVI" lowers the root by a half step.
func (k Key) Numeral(s string) (Chord, error) {
	name, of, applied := strings.Cut(s, "/")
	if applied {
		target, err := k.Numeral(of)
		if err != nil {
			return Chord{}, err
		}
		// The brief key is never written as a signature, so it may pass seven sharps:
		// V7/V of C-sharp minor is D-sharp seven.
		local := Key{fifthsOf(target.Root), Major}
		if target.Quality == MinorTriad {
			local = Key{local.Fifths - 3, Minor}
		}
		return local.Numeral(name)
	}
	flat := strings.HasPrefix(name, "b")
	name = strings.TrimPrefix(name, "b")
	for _, n := range numerals {
		if len(name) < len(n) || strings.ToLower(name[:len(n)]) != n {
			continue
		}
		upper := name[:len(n)] == strings.ToUpper(n)
		q, err := numeralQuality(name[len(n):], upper)
		if err != nil {
			return Chord{}, fmt.Errorf("chord %q: %w", s, err)
		}
		root := k.Degree(numeralDegree[n])
		if k.Mode == Minor && n == "vii" && !upper {
			root.Alter++
		}
		if flat {
			root.Alter--
		}
		return Chord{root, q}, nil
	}
	return Chord{}, fmt.Errorf("chord %q: write a roman numeral such as I, ii, V7 or V7/V", s)
}

func numeralQuality(suffix string, upper bool) (Quality, error) {
	switch {
	case suffix == "" && upper:
		return MajorTriad, nil
	case suffix == "":
		return MinorTriad, nil
	case suffix == "7" && upper:
		return DominantSeventh, nil
	case suffix == "7":
		return MinorSeventhChord, nil
	case suffix == "o" && !upper:
		return DiminishedTriad, nil
	case suffix == "o7" && !upper:
		return DiminishedSeventh, nil
	case suffix == "m7b5" && !upper:
		return HalfDiminished, nil
	case suffix == "maj7" && upper:
		return MajorSeventhChord, nil
	case suffix == "+" && upper:
		return AugmentedTriad, nil
	}
	return 0, fmt.Errorf("quality %q is not 7, o, o7, m7b5, maj7 or +, or does not go with the capitals", suffix)
}
