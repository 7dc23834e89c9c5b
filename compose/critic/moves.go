package critic

import (
	"fmt"

	"onward/compose/tune"
)

var (
	degreeLabels = []string{"1", "2", "3", "4", "5", "6", "7"}
	degreePairs  = labelPairs(degreeLabels, "")
	signed       = []string{"-6", "-5", "-4", "-3", "-2", "-1", "+0", "+1", "+2", "+3", "+4", "+5", "+6"}
	signedPairs  = labelPairs(signed[3:10], ",")
)

// labelPairs joins each label with each.
func labelPairs(labels []string, between string) []string {
	var all []string
	for _, a := range labels {
		for _, b := range labels {
			all = append(all, fmt.Sprint(a, between, b))
		}
	}
	return all
}

func mod7(step int) int { return ((step % 7) + 7) % 7 }

func abs(n int) int { return max(n, -n) }

func clip(n, limit int) int { return max(-limit, min(limit, n)) }

func sign(n int) int { return clip(n, 1) }

// moves is how often each interval comes, and each after each.
func (v *vector) moves(l *line) {
	var one [13]int
	var two [49]int
	for i, step := range l.intervals {
		one[clip(step, 6)+6]++
		if i > 0 {
			two[7*(clip(l.intervals[i-1], 3)+3)+clip(step, 3)+3]++
		}
	}
	v.shares("interval", "one", signed, one[:])
	v.shares("interval", "two", signedPairs, two[:])
}

// degrees is how often each degree of the scale comes, and each after each.
func (v *vector) degrees(l *line) {
	var all, down, beat [7]int
	var pairs [49]int
	for i, n := range l.Notes {
		d := mod7(n.Step)
		all[d]++
		if i > 0 {
			pairs[7*mod7(l.Notes[i-1].Step)+d]++
		}
		if n.Onset >= 0 && n.Onset%l.beat == 0 {
			beat[d]++
			if n.Onset%l.length == 0 {
				down[d]++
			}
		}
	}
	v.shares("interval", "degree", degreeLabels, all[:])
	v.shares("interval", "degrees", degreePairs, pairs[:])
	v.shares("interval", "downbeat degree", degreeLabels, down[:])
	v.shares("interval", "beat degree", degreeLabels, beat[:])
}

// leaps is how a line goes on after each interval.
func (v *vector) leaps(l *line) {
	steps, moving, up, repeats, turns, moved := 0, 0, 0, 0, 0, 0
	after, back, on, thirds, neighbours, scales := 0, 0, 0, 0, 0, 0
	for i, b := range l.intervals {
		if b == 0 {
			repeats++
		} else {
			moving++
			if b > 0 {
				up++
			}
			if abs(b) == 1 {
				steps++
			}
			if moved != 0 && sign(b) != sign(moved) {
				turns++
			}
			moved = b
		}
		if i == 0 {
			continue
		}
		a := l.intervals[i-1]
		if abs(a) >= 3 {
			after++
			if b == -sign(a) {
				back++
			}
			if sign(b) == sign(a) {
				on++
			}
		}
		if abs(a) == 2 && a == b {
			thirds++
		}
		if abs(a) == 1 && b == -a {
			neighbours++
		}
		if i > 1 && abs(a) == 1 && a == b && l.intervals[i-2] == a {
			scales++
		}
	}
	pairs := len(l.intervals) - 1
	v.put("interval", "steps of moving", ratio(steps, moving))
	v.put("interval", "repeats", ratio(repeats, len(l.intervals)))
	v.put("interval", "up of moving", ratio(up, moving))
	v.put("interval", "turns", ratio(turns, moving-1))
	v.put("interval", "leap answered by step back", ratio(back, after))
	v.put("interval", "leap goes on", ratio(on, after))
	v.put("interval", "thirds in a chain", ratio(thirds, pairs))
	v.put("interval", "neighbour", ratio(neighbours, pairs))
	v.put("interval", "scale of four", ratio(scales, pairs-1))
}

// barlines is the intervals over barlines.
func (v *vector) barlines(l *line) {
	steps, repeats, leaps, joints := 0, 0, 0, 0
	var before []tune.Note
	for _, notes := range l.measures {
		if len(notes) == 0 {
			continue
		}
		if before != nil {
			joints++
			switch over := abs(notes[0].Step - before[len(before)-1].Step); {
			case over == 0:
				repeats++
			case over == 1:
				steps++
			case over >= 3:
				leaps++
			}
		}
		before = notes
	}
	v.put("interval", "step over barline", ratio(steps, joints))
	v.put("interval", "repeat over barline", ratio(repeats, joints))
	v.put("interval", "leap over barline", ratio(leaps, joints))
}
