package main

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"onward/compose/musicxml"
	"onward/compose/score"
)

// choose takes the parts of a file that are learned: the one that was asked for, else all
// but those of percussion and keyboards, which accompany; where there are no others, all.
func (r *drillReader) choose(name string, file *musicxml.Lines) (*score.Score, error) {
	learned, err := r.chosen(name, file)
	if err != nil {
		return nil, err
	}
	s := &score.Score{Title: file.Title}
	var names, left []string
	for i := range file.Parts {
		switch p := &file.Parts[i]; {
		case learned[i]:
			s.Parts = append(s.Parts, *p.Part)
			names = append(names, p.Name)
		case r.choice == "" && (p.Part != nil || p.Percussion()):
			left = append(left, p.Name)
		}
	}
	switch {
	case len(left) > 0:
		fmt.Fprintf(r.warn, "%s: learned: %s; left out as accompaniment: %s; learn --part chooses another\n", name, listed(names), listed(left))
	case len(names) > 1:
		fmt.Fprintf(r.warn, "%s: learned: %s; learn --part chooses one\n", name, listed(names))
	}
	var warnings []musicxml.Warning
	for _, w := range file.Warnings {
		if w.Part == "" || slices.Contains(names, w.Part) || r.choice == "" && !slices.Contains(left, w.Part) {
			warnings = append(warnings, w)
		}
	}
	for _, line := range folded(warnings) {
		fmt.Fprintln(r.warn, line)
	}
	return s, nil
}

// chosen says of each part whether it is learned.
func (r *drillReader) chosen(name string, file *musicxml.Lines) ([]bool, error) {
	learned := make([]bool, len(file.Parts))
	if r.choice != "" {
		i, found := file.Choose(r.choice)
		switch {
		case !found:
			return nil, askedf("--part %s: %s has no one part of this number or name:\n%s", r.choice, name, listOfParts(file))
		case file.Parts[i].Part == nil:
			return nil, askedf("--part %s: %s: part %d, %s: %s", r.choice, name, i+1, file.Parts[i].Name, whyUnread(file, i))
		}
		learned[i] = true
		return learned, nil
	}
	some := false
	for i := range file.Parts {
		p := &file.Parts[i]
		learned[i] = p.Part != nil && !p.Percussion() && !p.Keyboard()
		some = some || learned[i]
	}
	for i := range file.Parts {
		learned[i] = learned[i] || !some && file.Parts[i].Part != nil
	}
	return learned, nil
}

// whyUnread says why a part could not be read.
func whyUnread(file *musicxml.Lines, i int) string {
	for _, w := range file.Warnings {
		if w.Part == file.Parts[i].Name && strings.HasPrefix(w.Text, "the part was left out") {
			return w.Text
		}
	}
	return "it cannot be read"
}

func listOfParts(file *musicxml.Lines) string {
	var lines []string
	for i := range file.Parts {
		lines = append(lines, fmt.Sprintf("  %-3d %s", i+1, file.Parts[i].Name))
	}
	return strings.Join(lines, "\n")
}

// checkChoice refuses a choice of a part or track that no file was there for.
func (r *drillReader) checkChoice() error {
	switch {
	case r.choice != "" && r.scores == 0:
		return askedf("--part %s: it is for MusicXML files, and none was given; --track chooses a track of MIDI files", r.choice)
	case r.track != "" && r.tracks == 0:
		return askedf("--track %s: it is for MIDI files, and none was given; --part chooses a part of MusicXML files", r.track)
	}
	return nil
}

// namesTold is how many names of one kind a warning lists.
const namesTold = 6

// listed joins names: "Horn", "Horn and Tuba", "Horn, Tuba and 3 more".
func listed(names []string) string {
	if n := len(names) - namesTold; n > 0 {
		names = append(names[:namesTold:namesTold], fmt.Sprintf("%d more", n))
	}
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// What warnings of one kind differ in: what was left out, as what something was read, what
// is irregular.
var (
	leftOut  = regexp.MustCompile(`^((?:dynamic )?\S+) was left out$`)
	readAs   = regexp.MustCompile(`^(dynamic|clef|mode|ending) (\S+) was read as (.*)$`)
	oddities = regexp.MustCompile(`^irregular: (.*)$`)
)

// folded says the warnings of a file in one line for each kind.
func folded(warnings []musicxml.Warning) []string {
	type fold struct {
		first  musicxml.Warning
		parts  []string
		things []string
		head   string // ahead of the things, "" where there are none
	}
	var folds []*fold
	of := map[string]*fold{}
	for _, w := range warnings {
		kind, head, thing := w.Text, "", ""
		if m := leftOut.FindStringSubmatch(w.Text); m != nil {
			kind, head, thing = "left out", "left out: ", m[1]
		} else if m := readAs.FindStringSubmatch(w.Text); m != nil {
			as, more, _ := strings.Cut(m[3], ";")
			kind, head, thing = m[1]+" "+more, m[1]+" read otherwise: ", m[2]+" as "+as
		} else if m := oddities.FindStringSubmatch(w.Text); m != nil {
			kind, head, thing = "irregular", "irregular: ", m[1]
		}
		f := of[kind]
		if f == nil {
			f = &fold{first: w, head: head}
			f.first.Times = 0
			of[kind] = f
			folds = append(folds, f)
		}
		f.first.Times += w.Times
		if !slices.Contains(f.parts, w.Part) {
			f.parts = append(f.parts, w.Part)
		}
		if thing != "" && !slices.Contains(f.things, thing) {
			f.things = append(f.things, thing)
		}
	}
	var lines []string
	for _, f := range folds {
		if len(f.things) > 1 {
			f.first.Text = f.head + listed(f.things)
		}
		if n := len(f.parts); n > 1 {
			f.first.Text += fmt.Sprintf(", and in %s", listed(f.parts[1:]))
		}
		lines = append(lines, f.first.String())
	}
	return lines
}
