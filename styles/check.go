package styles

import (
	"fmt"
	"strings"

	"onward/rhythm"
)

// check says what is wrong with a sheet that parsed, the first fault found.
func (s *Sheet) check() error {
	if s.Name == "" || s.Title == "" {
		return fault{"", `a sheet needs name = "..." and title = "..."`}
	}
	if len(s.Meters) == 0 || len(s.Forms) == 0 {
		return fault{"", "a sheet needs at least one [[meter]] and one [[form]]"}
	}
	if s.Tunes == "" {
		return fault{"", `a sheet needs tunes = "march", "song" or a file that was learned from tunes`}
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
	return s.Band.check()
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
	keys := map[string]string{} // of the sections so far
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
		if sec.Of == "" && (sec.Measures < 4 || sec.Measures > 64) {
			return fault{sec.Name, where + ": it needs measures, 4 to 64, or of = an earlier section"}
		}
		if sec.Ends != "" && sec.Ends != "half" {
			return fault{sec.Ends, fmt.Sprintf("%s: ends %q is not half; leave it out for a section that closes", where, sec.Ends)}
		}
		if sec.From != "" && (keys[sec.From] != sec.Key || sec.Of != "") {
			return fault{sec.From, fmt.Sprintf("%s: from names %q; name an earlier section in the same key, and give no of", where, sec.From)}
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
