package score

import "onward/rhythm"

// SetTuplets sets the brackets of tuplets throughout the part. A bracket opens at
// the first note of a ratio and closes when the group is whole: when it lasts
// Normal times a plain note value no shorter than the shortest value in it.
func SetTuplets(p *Part) {
	for i := range p.Measures {
		notes := p.Measures[i].Notes
		for j := range notes {
			notes[j].TupletStart, notes[j].TupletStop = false, false
		}
		for start := 0; start < len(notes); {
			if notes[start].Value.Tuplet == (rhythm.Ratio{}) {
				start++
				continue
			}
			end := tupletEnd(notes, start)
			notes[start].TupletStart, notes[end-1].TupletStop = true, true
			start = end
		}
	}
}

// tupletEnd reports the index after the last note of the tuplet that begins at start.
func tupletEnd(notes []Note, start int) int {
	ratio := notes[start].Value.Tuplet
	var sum rhythm.Duration
	shortest := 0
	for j := start; j < len(notes); j++ {
		v := notes[j].Value
		if v.Tuplet != ratio {
			return j
		}
		sum, shortest = sum+v.Duration(), max(shortest, v.Base)
		if wholeTuplet(ratio, sum, shortest) {
			return j + 1
		}
	}
	return len(notes)
}

// wholeTuplet reports whether notes of the ratio that last sum, the shortest of the
// base given, make up complete tuplets.
func wholeTuplet(ratio rhythm.Ratio, sum rhythm.Duration, shortest int) bool {
	for base := 1; base <= shortest; base *= 2 {
		if sum == rhythm.Duration(ratio.Normal)*rhythm.Whole/rhythm.Duration(base) {
			return true
		}
	}
	return false
}
