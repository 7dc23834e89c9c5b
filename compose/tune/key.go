package tune

import "math"

// A key is a tonic, 0 to 11, and a mode.
type key struct {
	tonic int
	minor bool
}

// A degree is a scale step and semitones off it.
type degree struct{ step, alter int }

// What each semitone above the tonic is in major and in natural minor, unless the note
// after tells that it leads elsewhere.
var (
	majorDegrees = [12]degree{{0, 0}, {0, 1}, {1, 0}, {2, -1}, {2, 0}, {3, 0}, {3, 1}, {4, 0}, {5, -1}, {5, 0}, {6, -1}, {6, 0}}
	minorDegrees = [12]degree{{0, 0}, {1, -1}, {1, 0}, {2, 0}, {2, 1}, {3, 0}, {3, 1}, {4, 0}, {5, 0}, {5, 1}, {6, 0}, {6, 1}}
	majorScale   = [7]int{0, 2, 4, 5, 7, 9, 11}
	minorScale   = [7]int{0, 2, 3, 5, 7, 8, 10}
)

// How well each semitone above the tonic fits a key, as listeners rated it. Source:
// Krumhansl and Kessler 1982.
var (
	majorFits = [12]float64{6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88}
	minorFits = [12]float64{6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17}
)

// estimateKey reports the key whose profile correlates best with the time that each pitch
// sounds.
func estimateKey(notes [][3]int) key {
	var time [12]float64
	total := 0.0
	for _, n := range notes {
		time[mod(n[2], 12)] += float64(n[1])
		total += float64(n[1])
	}
	var best key
	most := math.Inf(-1)
	for _, mode := range []struct {
		fits  [12]float64
		minor bool
	}{{majorFits, false}, {minorFits, true}} {
		mean, size := 0.0, 0.0
		for _, f := range mode.fits {
			mean += f / 12
		}
		for _, f := range mode.fits {
			size += float64((f - mean) * (f - mean))
		}
		for tonic := range 12 {
			fit := 0.0
			for i, f := range mode.fits {
				fit += float64((time[(tonic+i)%12] - total/12) * (f - mean))
			}
			if fit /= math.Sqrt(size); fit > most {
				most, best = fit, key{tonic, mode.minor}
			}
		}
	}
	return best
}

// strays is how much more of the time another scale must hold to be taken for a strain's
// than the one that is signed. Hand-set.
const strays = .08

// home reports the tonic of a strain in major: the signature's, unless the scale a fifth
// above or below holds clearly more of the notes, as where a signature was left out.
func (r *Row) home() int {
	best, most := 0, -1.0
	for _, by := range []int{0, 1, -1} {
		tonic := mod(7*(r.Fifths+by), 12)
		inside, total := 0, 0
		for _, n := range r.Notes {
			total += n[1]
			if majorDegrees[mod(n[2]-tonic, 12)].alter == 0 {
				inside += n[1]
			}
		}
		if share := float64(inside) / float64(max(1, total)); by == 0 || share > most+strays {
			best, most = tonic, share
		}
	}
	return best
}

// spell reports the scale step above a tonic, and semitones off it, of a pitch whose
// neighbour after it is next semitones higher. A note off the scale that resolves by a
// half step is the altered neighbour of what it resolves to.
func (k key) spell(midi, next int) degree {
	table, scale := &majorDegrees, &majorScale
	if k.minor {
		table, scale = &minorDegrees, &minorScale
	}
	above := midi - k.tonic - 60
	d := table[mod(above, 12)]
	if melodic := k.minor && d.step >= 5; d.alter != 0 && !melodic && (next == 1 || next == -1) {
		goal := table[mod(above+next, 12)]
		if step := mod(goal.step-next, 7); goal.alter == 0 && mod(above, 12) == mod(scale[step]+next, 12) {
			d = degree{step, next}
		}
	}
	d.step += 7 * floorDiv(above, 12)
	return d
}

// tune makes a tune of notes with MIDI numbers.
func (r *Row) tune(s shape, measures, start int, notes [][3]int, k key) *Tune {
	t := &Tune{Name: r.ID, Kind: r.Kind, Beats: s.beats, Unit: s.unit, Measures: measures,
		Start: start / s.divide, Minor: k.minor}
	for i, n := range notes {
		next := 0
		if i+1 < len(notes) {
			next = notes[i+1][2] - n[2]
		}
		d := k.spell(n[2], next)
		t.Notes = append(t.Notes, Note{n[0], n[1], d.step, d.alter})
	}
	t.center()
	return t
}

// center moves the notes by octaves so that their mean step lies in 0 to 6.
func (t *Tune) center() {
	sum := 0
	for _, n := range t.Notes {
		sum += n.Step
	}
	by := 7 * floorDiv(sum, 7*len(t.Notes))
	for i := range t.Notes {
		t.Notes[i].Step -= by
	}
}

// Semitones reports how far a note of the tune lies above the tonic.
func (t *Tune) Semitones(n Note) int {
	scale := &majorScale
	if t.Minor {
		scale = &minorScale
	}
	return 12*floorDiv(n.Step, 7) + scale[mod(n.Step, 7)] + n.Alter
}
