package compose

import (
	"slices"

	"onward/compose/ladder"
	"onward/compose/score"
)

// fresh lists what the finished page really carries of the things that its rung adds,
// in the rung's words.
func (p *piece) fresh(r *Read) []string {
	var out []string
	for i := range p.rung.Adds {
		t := &p.rung.Adds[i]
		if slices.Contains(p.bounds.Fresh, t.Words) && p.carriesThing(r, t) {
			out = append(out, t.Words)
		}
	}
	return out
}

func (p *piece) carriesThing(r *Read, t *ladder.Thing) bool {
	if slices.Contains(t.Meters, r.Meter.String()) {
		return true
	}
	for _, s := range r.Sections {
		if slices.Contains(t.Keys, s.Key.String()) {
			return true
		}
	}
	for _, f := range r.Figures {
		if slices.Contains(t.Cells, f.Cell) || slices.Contains(t.Shapes, f.Shape) || f.Trap && slices.Contains(t.Traps, f.Shape) {
			return true
		}
		if slices.Contains(t.Frees, f.Cell) && p.world.Catalogue.Shape(f.Shape).Family != "repeated" {
			return true
		}
	}
	return slices.ContainsFunc(t.Marks, func(m string) bool { return p.marked(&r.Score.Parts[0], m) })
}

// marked reports whether the page has the kind of mark.
func (p *piece) marked(part *score.Part, mark string) bool {
	for i := range part.Measures {
		m := &part.Measures[i]
		if mark == "hairpin" && len(m.Hairpins) > 0 || mark == "dynamics" && len(m.Dynamics) > 0 {
			return true
		}
		for _, d := range m.Dynamics {
			if mark == "extremes" && (d.Mark == "ff" || d.Mark == "pp") {
				return true
			}
		}
		for _, n := range m.Notes {
			switch mark {
			case "slur":
				if n.SlurStart {
					return true
				}
			case "staccato":
				if n.Staccato {
					return true
				}
			case "accent":
				if n.Accent {
					return true
				}
			case "tenuto":
				if n.Tenuto {
					return true
				}
			case "marcato":
				if n.Marcato {
					return true
				}
			}
		}
	}
	return false
}
