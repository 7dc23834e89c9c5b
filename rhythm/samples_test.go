package rhythm

import (
	"encoding/xml"
	"os"
	"path/filepath"
	"testing"
)

// The parts of MusicXML that say when notes start and how they are written.
type sampleFile struct {
	Parts []struct {
		Measures []sampleMeasure `xml:"measure"`
	} `xml:"part"`
}

type sampleMeasure struct {
	Number   string `xml:"number,attr"`
	Implicit string `xml:"implicit,attr"`
	Beats    string `xml:"attributes>time>beats"`
	Unit     string `xml:"attributes>time>beat-type"`
	Notes    []struct {
		Grace  *struct{} `xml:"grace"`
		Chord  *struct{} `xml:"chord"`
		Rest   *struct{} `xml:"rest"`
		Type   string    `xml:"type"`
		Dots   []string  `xml:"dot"`
		Actual int       `xml:"time-modification>actual-notes"`
		Normal int       `xml:"time-modification>normal-notes"`
		Staff  string    `xml:"staff"`
		Voice  string    `xml:"voice"`
		Beams  []string  `xml:"beam"`
	} `xml:"note"`
}

var sampleTypes = map[string]int{"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16, "32nd": 32, "64th": 64}

var sampleShares = map[string]BeamShare{"begin": BeamBegin, "continue": BeamContinue, "end": BeamEnd,
	"forward hook": BeamForwardHook, "backward hook": BeamBackwardHook}

// A writtenMeasure is one measure of a sample as its copyist wrote it.
type writtenMeasure struct {
	place string // "technical-c.musicxml:12"
	meter Meter
	notes []TimedValue
	beams [][]BeamShare
}

// text writes the measure as a cell is written.
func (w writtenMeasure) text() string {
	var events []Event
	for _, n := range w.notes {
		events = append(events, Event{Value: n.Value, Rest: n.Rest})
	}
	return w.meter.String() + ": " + FormatCell(events)
}

// sampleMeasures reads the measures of the first part that are full, or are pickups;
// it skips the test where the samples are not at hand, or fails it if ONWARD_OUTSIDE
// is 1.
func sampleMeasures(t *testing.T, pattern string) []writtenMeasure {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "shared", "samples", pattern))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		if os.Getenv("ONWARD_OUTSIDE") == "1" {
			t.Fatal("no samples in ../shared/samples")
		}
		t.Skip("no samples in ../shared/samples")
	}
	var list []writtenMeasure
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var file sampleFile
		if err := xml.Unmarshal(text, &file); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var m Meter
		for _, s := range file.Parts[0].Measures {
			if s.Beats != "" {
				m, err = ParseMeter(s.Beats + "/" + s.Unit)
				if err != nil {
					t.Fatalf("%s:%s: %v", name, s.Number, err)
				}
			}
			if w, ok := s.written(m); ok {
				w.place = filepath.Base(name) + ":" + s.Number
				list = append(list, w)
			}
		}
	}
	return list
}

// written reports the measure's first voice; false if it does not fill the measure.
func (s sampleMeasure) written(m Meter) (writtenMeasure, bool) {
	w, at := writtenMeasure{meter: m}, Offset(0)
	for _, n := range s.Notes {
		if n.Grace != nil || n.Chord != nil || n.Staff > "1" || n.Voice > "1" {
			continue
		}
		v := Value{sampleTypes[n.Type], len(n.Dots), Ratio{n.Actual, n.Normal}}
		if !v.exact() {
			return w, false
		}
		var shares []BeamShare
		for _, b := range n.Beams {
			shares = append(shares, sampleShares[b])
		}
		w.notes = append(w.notes, TimedValue{at, v, n.Rest != nil})
		w.beams = append(w.beams, shares)
		at = at.Add(v.Duration())
	}
	missing := Offset(m.Measure()) - at
	if missing < 0 || missing > 0 && s.Implicit != "yes" {
		return w, false
	}
	for i := range w.notes { // a pickup ends its measure
		w.notes[i].At += missing
	}
	return w, true
}

// What copyists wrote in published studies, songs and marches is what Shows and
// ShowsRest let pass, but for one note in a hundred; tuplets aside, whose places the
// page gives by their brackets.
func TestShowsAgreesWithCopyists(t *testing.T) {
	seen, odd := 0, 0
	for _, w := range sampleMeasures(t, "[esm]*/*.musicxml") {
		for _, n := range w.notes {
			if n.Value.Tuplet.Actual != 0 {
				continue
			}
			seen++
			if n.Rest && !w.meter.ShowsRest(n.At, n.Value) || !n.Rest && !w.meter.Shows(n.At, n.Value) {
				odd++
				t.Logf("%s: %s: %s at %d", w.place, w.text(), n.Value, n.At)
			}
		}
	}
	t.Logf("%d notes and rests, %d written otherwise", seen, odd)
	if seen < 1000 || odd*100 > seen {
		t.Errorf("of %d notes and rests %d are written otherwise, more than one in a hundred", seen, odd)
	}
}

// The beams of published studies and songs are those of Beams, but for one measure in
// ten: some copyists join dotted pairs by the half measure. Left aside are measures
// with beams over rests, which Beams never draws.
func TestBeamsAgreeWithCopyists(t *testing.T) {
	seen, odd := 0, 0
	for _, w := range sampleMeasures(t, "[es]*/*.musicxml") {
		if w.beamsOverRests() {
			continue
		}
		seen++
		if got := Beams(w.meter, w.notes); beamText(got) != beamText(w.beams) {
			odd++
			t.Logf("%s: %s\nours   %s\ntheirs %s", w.place, w.text(), beamText(got), beamText(w.beams))
		}
	}
	t.Logf("%d measures, %d beamed otherwise", seen, odd)
	if seen < 100 || odd*10 > seen {
		t.Errorf("of %d measures %d are beamed otherwise, more than one in ten", seen, odd)
	}
}

// beamsOverRests reports whether a beam runs on over a rest.
func (w writtenMeasure) beamsOverRests() bool {
	open := false
	for i, n := range w.notes {
		if n.Rest && open {
			return true
		}
		if shares := w.beams[i]; len(shares) > 0 {
			open = shares[0] == BeamBegin || shares[0] == BeamContinue
		}
	}
	return false
}
