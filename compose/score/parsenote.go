package score

import (
	"fmt"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// note takes a note or a rest.
func (r *textReader) note(w string) error {
	n := Note{At: r.at}
	if w == "R" || strings.HasPrefix(w, "R:") {
		length, err := r.silence(w)
		if err != nil {
			return err
		}
		n.Rest, n.WholeMeasure, n.Value = true, true, rhythm.Value{Base: 1}
		r.m.Notes, r.at = append(r.m.Notes, n), r.at.Add(length)
		return r.tie(&n)
	}
	w, err := parseGrace(w, &n)
	if err != nil {
		return err
	}
	pitch, value, ok := strings.Cut(w, ":")
	if !ok {
		return fmt.Errorf("not a word of music text; write a note such as Bb4:8")
	}
	if n.Rest = pitch == "r"; !n.Rest {
		if n.Pitch, err = theory.ParsePitch(pitch); err != nil {
			return err
		}
	}
	marks, err := parseTextValue(value, &n.Value)
	if err != nil {
		return err
	}
	if err := setMarks(&n, marks); err != nil {
		return err
	}
	if err := r.tie(&n); err != nil {
		return err
	}
	r.m.Notes, r.at = append(r.m.Notes, n), r.at.Add(n.Value.Duration())
	return nil
}

// silence reports how long the measure's rest in the word lasts.
func (r *textReader) silence(w string) (rhythm.Duration, error) {
	if w == "R" {
		return r.meter.Measure(), nil
	}
	sum := rhythm.Duration(0)
	for _, s := range strings.Split(w[len("R:"):], "+") {
		v, err := rhythm.ParseValue(s)
		if err != nil {
			return 0, err
		}
		sum += v.Duration()
	}
	return sum, nil
}

// tie joins n to the note before where that one is tied onward.
func (r *textReader) tie(n *Note) error {
	if r.tied && n.Rest {
		return fmt.Errorf("the note before is tied to a rest")
	}
	n.TieStop, r.tied = r.tied, n.TieStart
	return nil
}

// parseGrace takes "{A4,Bb4}" off the front of w.
func parseGrace(w string, n *Note) (rest string, err error) {
	if !strings.HasPrefix(w, "{") {
		return w, nil
	}
	inside, rest, ok := strings.Cut(w[1:], "}")
	if !ok {
		return "", fmt.Errorf("grace notes lack their \"}\"")
	}
	inside, n.GraceSlur = strings.CutSuffix(inside, "(")
	for _, s := range strings.Split(inside, ",") {
		p, err := theory.ParsePitch(s)
		if err != nil {
			return "", fmt.Errorf("grace note: %w", err)
		}
		n.Grace = append(n.Grace, p)
	}
	return rest, nil
}

// parseTextValue takes the note value off the front of s and returns the marks.
func parseTextValue(s string, v *rhythm.Value) (marks string, err error) {
	end := len(s) - len(strings.TrimLeft(s, "0123456789"))
	end += len(s[end:]) - len(strings.TrimLeft(s[end:], "."))
	if strings.HasPrefix(s[end:], "t") {
		end++
	}
	if *v, err = rhythm.ParseValue(s[:end]); err != nil {
		return "", err
	}
	var actual, normal int
	if _, err := fmt.Sscanf(s[end:], "(%d:%d)", &actual, &normal); err == nil {
		if actual < 1 || normal < 1 || v.Tuplet != (rhythm.Ratio{}) {
			return "", fmt.Errorf("tuplet ratio in %q is not legal", s)
		}
		v.Tuplet = rhythm.Ratio{Actual: actual, Normal: normal}
		end += strings.IndexByte(s[end:], ')') + 1
	}
	return s[end:], nil
}

func setMarks(n *Note, marks string) error {
	for _, c := range marks {
		if n.Rest && c != '@' {
			return fmt.Errorf("a rest has no mark %q", c)
		}
		switch c {
		case '~':
			n.TieStart = true
		case '(':
			n.SlurStart = true
		case ')':
			n.SlurStop = true
		case '\'':
			n.Staccato = true
		case '_':
			n.Tenuto = true
		case '>':
			n.Accent = true
		case '^':
			n.Marcato = true
		case '@':
			n.Fermata = true
		case ',':
			n.Breath = true
		default:
			return fmt.Errorf("mark %q is not one of ~ ( ) ' _ > ^ @ ,", c)
		}
	}
	return nil
}
