package theory

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"
)

//go:embed instruments.json
var instrumentsFile []byte

// shipped parses instruments.json once; that it is sound is a test's affair, so a
// fault here is the program's own and panics.
var shipped = sync.OnceValue(func() []Instrument {
	list, err := parseInstruments("theory/instruments.json", instrumentsFile)
	if err != nil {
		panic(err)
	}
	return list
})

// Instruments reports the instruments in the order of a band score, flute first.
// The caller owns what it gets.
func Instruments() []Instrument {
	list := slices.Clone(shipped())
	for i := range list {
		list[i].Fingerings = maps.Clone(list[i].Fingerings)
	}
	return list
}

// InstrumentByID reports the instrument with the id given, as in "euphonium-tc". The
// error for an unknown id names the nearest ones.
func InstrumentByID(id string) (Instrument, error) {
	list := shipped()
	for _, inst := range list {
		if strings.EqualFold(inst.ID, strings.TrimSpace(id)) {
			inst.Fingerings = maps.Clone(inst.Fingerings)
			return inst, nil
		}
	}
	return Instrument{}, fmt.Errorf("instrument %q: not known; try %s", id, strings.Join(nearIDs(id, list), ", "))
}

// nearIDs reports the ids that share a word with id or are a few letters away from
// it; all ids if there are none.
func nearIDs(id string, list []Instrument) []string {
	id = strings.ToLower(strings.TrimSpace(id))
	var near, all []string
	for _, inst := range list {
		all = append(all, inst.ID)
		name, _, _ := strings.Cut(inst.ID, "-")
		first, _, _ := strings.Cut(id, "-")
		switch {
		case id != "" && strings.HasPrefix(inst.ID, id),
			letterSlips(first, name) <= 2,
			letterSlips(id, inst.ID) <= 2:
			near = append(near, inst.ID)
		}
	}
	if near == nil {
		return all
	}
	return near
}

// letterSlips reports the edit distance of a and b: letters put in, left out or
// changed.
func letterSlips(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// The form of instruments.json. Every "source" says where the values beside it come
// from; it is for readers of the file.
type instrumentsText struct {
	Charts      []chartText      `json:"charts"`
	Instruments []instrumentText `json:"instruments"`
}

type chartText struct {
	Name   string `json:"name"`
	Source string `json:"source"`
	// Groups hold the fingers of rising semitones, lowest group first.
	Groups []struct {
		Partial int    `json:"partial"`
		Fingers string `json:"fingers"`
	} `json:"groups"`
}

type instrumentText struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Clef   string `json:"clef"`
	Sounds struct {
		Steps     int `json:"steps"`
		Semitones int `json:"semitones"`
	} `json:"sounds"`
	Ranges struct {
		SixNotes     string `json:"six-notes"`
		Beginner     string `json:"beginner"`
		Intermediate string `json:"intermediate"`
		Advanced     string `json:"advanced"`
		Beyond       string `json:"beyond"`
		Source       string `json:"source"`
	} `json:"ranges"`
	Breath struct {
		Soft   float64 `json:"soft"`
		Medium float64 `json:"medium"`
		Loud   float64 `json:"loud"`
		Source string  `json:"source"`
	} `json:"breath"`
	Program struct {
		Number int    `json:"number"`
		Why    string `json:"why"`
	} `json:"program"`
	// Chart names a chart and the written pitch its first finger plays; nil where
	// fingering is not modelled.
	Chart *struct {
		Name string `json:"name"`
		From string `json:"from"`
	} `json:"chart"`
}

// parseInstruments reads the text of an instruments file; name is for errors.
func parseInstruments(name string, text []byte) ([]Instrument, error) {
	var file instrumentsText
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, faultLine(text, d.InputOffset(), err), err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fmt.Errorf("%s:%d: more text after the end; keep one object", name, faultLine(text, d.InputOffset(), nil))
	}
	var list []Instrument
	seen := map[string]bool{}
	for _, t := range file.Instruments {
		inst, err := t.instrument(file.Charts)
		if err != nil {
			return nil, fmt.Errorf("%s: instrument %q: %w", name, t.ID, err)
		}
		if seen[t.ID] {
			return nil, fmt.Errorf("%s: instrument %q stands twice; take one out", name, t.ID)
		}
		seen[t.ID] = true
		list = append(list, inst)
	}
	return list, nil
}

// faultLine reports the line, from 1, at which decoding went wrong.
func faultLine(text []byte, offset int64, err error) int {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		offset = syntax.Offset
	case errors.As(err, &kind):
		offset = kind.Offset
	}
	return 1 + bytes.Count(text[:min(offset, int64(len(text)))], []byte("\n"))
}

func (t instrumentText) instrument(charts []chartText) (Instrument, error) {
	inst := Instrument{
		ID: t.ID, Name: t.Name,
		Sounds:  Interval{t.Sounds.Steps, t.Sounds.Semitones},
		Breath:  [3]float64{t.Breath.Soft, t.Breath.Medium, t.Breath.Loud},
		Program: t.Program.Number,
	}
	if inst.ID == "" || inst.Name == "" {
		return inst, errors.New("give it an id and a name")
	}
	var err error
	if inst.Clef, err = ParseClef(t.Clef); err != nil {
		return inst, err
	}
	if inst.Program < 0 || inst.Program > 127 {
		return inst, fmt.Errorf("program %d is not 0 to 127", inst.Program)
	}
	if b := inst.Breath; b[2] <= 0 || b[0] < b[1] || b[1] < b[2] {
		return inst, fmt.Errorf("breath %v: a loud breath lasts more than 0 s, a medium and a soft one no less", b)
	}
	if inst.Ranges, err = t.ranges(); err != nil {
		return inst, err
	}
	if t.Chart == nil {
		return inst, nil
	}
	inst.Fingerings, err = fingerings(charts, t.Chart.Name, t.Chart.From)
	inst.Slide = t.Chart.Name == "slide"
	return inst, err
}

// ranges reads the brackets and checks that each holds the one before.
func (t instrumentText) ranges() ([5]Range, error) {
	var list [5]Range
	texts := [5]string{t.Ranges.SixNotes, t.Ranges.Beginner, t.Ranges.Intermediate, t.Ranges.Advanced, t.Ranges.Beyond}
	for b, text := range texts {
		r, err := parseRange(text)
		if err != nil {
			return list, fmt.Errorf("range %s: %w", Bracket(b), err)
		}
		if b > 0 && !(r.Has(list[b-1].Low) && r.Has(list[b-1].High)) {
			return list, fmt.Errorf("range %s: %s does not hold the bracket before it", Bracket(b), text)
		}
		list[b] = r
	}
	return list, nil
}

// parseRange reads "C4 A4".
func parseRange(text string) (Range, error) {
	low, high, ok := strings.Cut(text, " ")
	if !ok {
		return Range{}, fmt.Errorf("%q: write the lowest and the highest pitch, as in \"C4 A4\"", text)
	}
	l, err := ParsePitch(low)
	if err != nil {
		return Range{}, err
	}
	h, err := ParsePitch(high)
	if err != nil {
		return Range{}, err
	}
	if l.MIDI() >= h.MIDI() {
		return Range{}, fmt.Errorf("%q: the first pitch is not the lower one", text)
	}
	return Range{l, h}, nil
}

// fingerings lays the named chart out from the written pitch given.
func fingerings(charts []chartText, name, from string) (map[int]Fingering, error) {
	i := slices.IndexFunc(charts, func(c chartText) bool { return c.Name == name })
	if i < 0 {
		return nil, fmt.Errorf("chart %q is not in charts", name)
	}
	first, err := ParsePitch(from)
	if err != nil {
		return nil, fmt.Errorf("chart %q: %w", name, err)
	}
	table, key := map[int]Fingering{}, first.MIDI()
	for _, g := range charts[i].Groups {
		for _, fingers := range strings.Fields(g.Fingers) {
			if strings.Trim(fingers, "01234567") != "" {
				return nil, fmt.Errorf("chart %q: %q is neither valves nor a slide position", name, fingers)
			}
			table[key] = Fingering{Valves: fingers, Partial: g.Partial}
			key++
		}
	}
	return table, nil
}
