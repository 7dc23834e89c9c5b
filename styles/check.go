package styles

import (
	"fmt"
	"slices"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// check says what is wrong with a sheet that parsed, the first fault found.
func (s *Sheet) check() error {
	if s.Name == "" || s.Title == "" {
		return fault{"", `a sheet needs name = "..." and title = "..."`}
	}
	if len(s.Meters) == 0 || len(s.Forms) == 0 || len(s.Harmony) == 0 {
		return fault{"", "a sheet needs at least one [[meter]], one [[form]] and one [[harmony]]"}
	}
	if r := s.Rhythm; r.Plain <= 0 || r.Stray <= 0 || r.Palette < 1 || r.Closing <= 0 {
		return fault{"[rhythm]", "[rhythm] needs plain, stray and closing above 0 and a palette of 1 or more cells; the march has 0.86, 0.03, 1 and 4"}
	}
	if m := s.Melody; m.Pull <= 0 || m.Arch <= 0 || m.Arch > 1 {
		return fault{"[melody]", "[melody] needs pull above 0 and an arch above 0, 1 at most; the march has 1.0 and 0.55"}
	}
	for _, m := range s.Meters {
		if err := m.check(); err != nil {
			return err
		}
	}
	for _, f := range s.Forms {
		if err := f.check(); err != nil {
			return err
		}
	}
	if err := s.Band.check(); err != nil {
		return err
	}
	return s.checkHarmony()
}

func (m Meter) check() error {
	if _, err := rhythm.ParseMeter(m.Name); err != nil {
		return fault{m.Name, err.Error()}
	}
	if m.Weight <= 0 || m.Onsets <= 0 {
		return fault{m.Name, fmt.Sprintf("meter %s: weight and onsets must be above 0", m.Name)}
	}
	if m.Tempo[0] < 30 || m.Tempo[1] < m.Tempo[0] || m.Tempo[1] > 200 {
		return fault{m.Name, fmt.Sprintf("meter %s: tempo %v is not slowest and fastest beats a minute within 30 to 200", m.Name, m.Tempo)}
	}
	return nil
}

func (f Form) check() error {
	if f.Name == "" || len(f.Sections) == 0 {
		return fault{f.Name, fmt.Sprintf("form %q: a form needs a name and at least one [[form.section]]", f.Name)}
	}
	keys, letters := map[string]string{}, map[string][]string{} // of the sections so far
	for _, sec := range f.Sections {
		where := fmt.Sprintf("form %q, section %q", f.Name, sec.Name)
		switch sec.Key {
		case "tonic", "subdominant", "dominant", "relative":
		default:
			return fault{sec.Key, fmt.Sprintf("%s: key %q is not tonic, subdominant, dominant or relative", where, sec.Key)}
		}
		switch sec.Character {
		case "", "smooth", "break":
		default:
			return fault{sec.Character, fmt.Sprintf("%s: character %q is not smooth, break or empty", where, sec.Character)}
		}
		if sec.Of != "" && keys[sec.Of] == "" {
			return fault{sec.Of, fmt.Sprintf("%s: of names %q, which is no earlier section of the form", where, sec.Of)}
		}
		if sec.Of == "" && len(sec.Plans) == 0 {
			return fault{sec.Name, where + ": it needs plans, or of = an earlier section"}
		}
		if sec.From != "" && (keys[sec.From] != sec.Key || sec.Of != "") {
			return fault{sec.From, fmt.Sprintf("%s: from names %q; name an earlier section in the same key, and give no of", where, sec.From)}
		}
		for i, p := range sec.Plans {
			plan, err := ParsePlan(p, letters[sec.From]...)
			if err != nil {
				return fault{p, fmt.Sprintf("%s: %v", where, err)}
			}
			letters[sec.Name] = shared(letters[sec.Name], plan, i == 0)
		}
		if sec.Dynamic == "" {
			return fault{`"` + sec.Name + `"`, where + `: it needs a dynamic, such as dynamic = "mf"`}
		}
		if sec.Endings && !sec.Repeat {
			return fault{`"` + sec.Name + `"`, where + ": it has endings but no repeat; add repeat = true"}
		}
		for _, mark := range []string{sec.Dynamic, sec.Again} {
			if mark != "" && !strings.Contains(" pp p mp mf f ff ", " "+mark+" ") {
				return fault{`"` + mark + `"`, fmt.Sprintf("%s: dynamic %q is not pp, p, mp, mf, f or ff", where, mark)}
			}
		}
		keys[sec.Name] = sec.Key
	}
	return nil
}

// shared reports the letters that all plans of a section have, so that whichever is drawn
// they have stood: those of the plans so far that this one has, too.
func shared(letters []string, plan []Phrase, first bool) []string {
	var out []string
	for _, ph := range plan {
		if (first || slices.Contains(letters, ph.Letter)) && !slices.Contains(out, ph.Letter) {
			out = append(out, ph.Letter)
		}
	}
	return out
}

// checkHarmony reads every chord in C, and asks for each cadence in major.
func (s *Sheet) checkHarmony() error {
	have := map[string]bool{}
	for _, p := range s.Harmony {
		key := theory.Key{}
		if p.Mode == "minor" {
			key.Mode = theory.Minor
		} else if p.Mode != "major" {
			return fault{p.Chords, fmt.Sprintf("chords %q: mode %q is not major or minor", p.Chords, p.Mode)}
		}
		if n := len(strings.Fields(p.Chords)); n != 4 {
			return fault{p.Chords, fmt.Sprintf("chords %q: %d measures, a phrase has 4", p.Chords, n)}
		}
		for _, word := range strings.Fields(p.Chords) {
			for _, c := range strings.Split(word, "-") {
				if _, err := key.Numeral(c); err != nil {
					return fault{p.Chords, err.Error()}
				}
			}
		}
		if p.Weight <= 0 {
			return fault{p.Chords, fmt.Sprintf("chords %q: weight must be above 0", p.Chords)}
		}
		if p.Level <= 1 { // something must be there at the first rung
			have[p.Mode+p.Cadence] = true
		}
	}
	for _, mode := range []string{"major", "minor"} {
		for _, c := range []string{"half", "open", "close", "on"} {
			if !have[mode+c] {
				return fault{"", fmt.Sprintf("no [[harmony]] of level 1 for mode %q and cadence %q; add one", mode, c)}
			}
		}
	}
	return nil
}

// Form reports the form of that name; an error names those there are.
func (s *Sheet) Form(name string) (*Form, error) {
	var names []string
	for i := range s.Forms {
		if s.Forms[i].Name == name {
			return &s.Forms[i], nil
		}
		names = append(names, s.Forms[i].Name)
	}
	return nil, fmt.Errorf("form %q: the style %s has %s", name, s.Name, strings.Join(names, ", "))
}

// Meter reports the meter of that name; an error names those there are.
func (s *Sheet) Meter(name string) (*Meter, error) {
	var names []string
	for i := range s.Meters {
		if s.Meters[i].Name == name {
			return &s.Meters[i], nil
		}
		names = append(names, s.Meters[i].Name)
	}
	return nil, fmt.Errorf("meter %s: the style %s has %s", name, s.Name, strings.Join(names, ", "))
}
