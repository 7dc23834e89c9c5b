package musicxml

import (
	"strconv"
	"strings"
)

// measureRepeats plays out the signs that stand for the measure, or the two or four,
// before them (MusicXML 4.0, measure-repeat).
type measureRepeats struct {
	before []*element // the latest measures, at most longestRepeat
	span   int        // how many measures a sign stands for; 0 for none in force
	times  int        // how many measures were filled
	first  string     // the number of the first
}

const (
	longestRepeat = 8    // measures in one sign
	fullest       = 1000 // elements in a measure that a sign stands for
)

// fill reports the measure with the notes that a sign stands for, if it has none of
// its own under one.
func (r *measureRepeats) fill(e *element) *element {
	for _, a := range e.all("attributes") {
		for _, style := range a.all("measure-style") {
			switch sign := style.kid("measure-repeat"); sign.attr("type") {
			case "start":
				r.span = 1
				if n, err := strconv.Atoi(strings.TrimSpace(sign.text)); err == nil {
					r.span = n
				}
			case "stop":
				r.span = 0
			}
		}
	}
	if r.span >= 1 && r.span <= len(r.before) && !sounds(e) && len(r.before[len(r.before)-r.span].kids) <= fullest {
		from := r.before[len(r.before)-r.span]
		e = &element{name: e.name, attrs: e.attrs, line: e.line, kids: append(moving(e, false), moving(from, true)...)}
		if r.times++; r.times == 1 {
			r.first = e.attr("number")
		}
	}
	if r.before = append(r.before, e); len(r.before) > longestRepeat {
		r.before = r.before[1:]
	}
	return e
}

// sounds reports whether the measure has a note.
func sounds(e *element) bool {
	for _, k := range e.kids {
		if k.name == "note" && !k.has("rest") {
			return true
		}
	}
	return false
}

// moving lists the children that move the time on, or all the others.
func moving(e *element, is bool) []*element {
	var list []*element
	for _, k := range e.kids {
		if (k.name == "note" || k.name == "backup" || k.name == "forward") == is {
			list = append(list, k)
		}
	}
	return list
}
