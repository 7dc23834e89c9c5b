package band

import "onward/rhythm"

// The levels from which a measure counts as soft or loud: mezzo piano, and halfway
// between mezzo forte and forte, as velocities of package timeline.
const (
	softest = 64
	loudest = 88
)

// marks are the velocities of the dynamic marks, as in package timeline.
var marks = map[string]int{"pp": 33, "p": 49, "mp": 64, "mf": 80, "f": 96, "ff": 112}

// level reports the player's dynamic at a point of the take as a velocity, hairpins
// and the dynamic of the second time included.
func (t *take) level(at rhythm.Offset) int {
	return int(clamp(int(t.l.Level(at))+t.shift(at), 1, 127))
}

// shift is what the section knows of its dynamic and the page's marks do not say:
// another dynamic the second time, and on pages without marks half of the section's
// own, so that a trio is lighter there too.
func (t *take) shift(at rhythm.Offset) int {
	m, ok := t.l.At(at)
	if !ok {
		m = t.l.Measures[0]
	}
	var shift int
	for i := range t.r.Sections {
		s := &t.r.Sections[i]
		if m.Index < s.First {
			break
		}
		shift = 0
		here, known := marks[s.Dynamic]
		if known && !t.printed {
			shift = (here - marks["mf"]) / 2
		}
		if again, ok := marks[s.Again]; ok && known && m.Pass > 1 {
			shift += again - here
		}
	}
	return shift
}

// velocity reports how loud a stroke of so many percent of the player's dynamic is. It
// never reaches the player's own level.
func (t *take) velocity(at rhythm.Offset, percent int) uint8 {
	level := t.level(at)
	return clamp(level*percent/100, 1, max(1, level-1))
}

func clamp(v, low, high int) uint8 { return uint8(min(high, max(low, v))) }
