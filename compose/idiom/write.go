package idiom

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// The words of the format. A relation is one letter, and for a sequence and a head its value
// after a colon: "n", "s0", "m3:-2", "h1:2", "c0", "b4"; or "_" for a silent measure.
const relationLetters = "smhcbn"

var chordNames = [chords]string{"I", "V", "IV", "ii", "vi"}

// Legend says in the head of a file how the rest is to be read.
var Legend = []string{
	"meter NAME, ticks of a measure and of a beat (24 a quarter), classes of rhythm",
	"rhythm ONSET+TICKS ... of a measure",
	"form major or minor, class, first degree (0 the tonic, -1 not settled), lowest, highest step, weight / pickup / measures:",
	"  n new, s same, m moved by so many steps, h same first notes, c same contour, b same rhythm, each of measure;",
	"  _ silent; .chord; =degree of the last note of a phrase",
	"count LEVEL CONTEXT RHYTHM:TIMES ...; levels: place, class, class and place, rhythm before and class, and place",
	"first CHORD, times that each degree begins a tune",
	"alter major or minor, degree, steps of arrival and leaving, times lowered, natural, raised",
	"weight TEMPLATE ROW, hundredths for intervals of -8 to 8 steps",
}

// Write writes the idiom as text; see Legend. Read reads it again.
func (d *Idiom) Write(w io.Writer) error {
	b := bufio.NewWriter(w)
	for _, line := range d.Head {
		fmt.Fprintln(b, strings.TrimRight("# "+line, " "))
	}
	for _, m := range d.Meters {
		m.write(b)
	}
	return b.Flush()
}

func (m *Meter) write(b *bufio.Writer) {
	fmt.Fprintln(b, "meter", m.Name, m.Measured, m.Beat, m.Classes)
	for _, r := range m.Rhythms {
		fmt.Fprintln(b, "rhythm"+spots(r))
	}
	for i := range m.Forms {
		m.Forms[i].write(b)
	}
	for level := range m.levels {
		for i, context := range m.levels[level].contexts {
			fmt.Fprint(b, "count ", level, " ", context)
			for _, p := range m.levels[level].rows[i] {
				fmt.Fprintf(b, " %d:%d", p.rhythm, p.times)
			}
			fmt.Fprintln(b)
		}
	}
	for chord, row := range m.first {
		if row != [7]int{} {
			fmt.Fprintln(b, "first", chordNames[chord], trim(fmt.Sprint(row)))
		}
	}
	m.writeAlter(b)
	for i, t := range templates {
		for row := m.rows.base[i]; row < m.rows.end(i); row++ {
			if w := (*[Intervals]int16)(m.line[row*Intervals:]); *w != [Intervals]int16{} {
				fmt.Fprintln(b, "weight", t.name, row-m.rows.base[i], trim(fmt.Sprint(*w)))
			}
		}
	}
}

// end reports where the rows of a template end.
func (l *layout) end(i int) int {
	if i+1 < len(l.base) {
		return l.base[i+1]
	}
	return l.total
}

// trim takes the brackets off a printed array.
func trim(s string) string { return strings.Trim(s, "[]") }

func (m *Meter) writeAlter(b *bufio.Writer) {
	for mode := range m.alter {
		for degree := range m.alter[mode] {
			for a := range 2*alterSpan + 1 {
				for l := range 2*alterSpan + 1 {
					if n := m.alter[mode][degree][a][l]; n != [3]int{} {
						fmt.Fprintln(b, "alter", modeName(mode == 1), degree, a-alterSpan, l-alterSpan, trim(fmt.Sprint(n)))
					}
				}
			}
		}
	}
}

func modeName(minor bool) string {
	if minor {
		return "minor"
	}
	return "major"
}

// spots writes places, a space ahead of each.
func spots(places []Place) string {
	s := ""
	for _, p := range places {
		s += fmt.Sprintf(" %d+%d", p.Onset, p.Ticks)
	}
	return s
}

func (f *Form) write(b *bufio.Writer) {
	fmt.Fprint(b, "form ", modeName(f.Minor), " ", f.Class, " ", f.First, " ", f.Low, " ", f.High, " ", f.Weight,
		" /", spots(f.Pickup), " /")
	for _, m := range f.Measures {
		b.WriteByte(' ')
		b.WriteString(m.text())
	}
	fmt.Fprintln(b)
}

func (m *Measure) text() string {
	s := "_"
	if !m.Silent {
		s = relationLetters[m.Kind : m.Kind+1]
		if m.Kind != New {
			s += strconv.Itoa(m.Source)
		}
		if m.Kind == Sequence || m.Kind == Head {
			s += ":" + strconv.Itoa(m.Value)
		}
	}
	s += "." + chordNames[m.Chord]
	if m.End != None {
		s += "=" + strconv.Itoa(m.End)
	}
	return s
}
