package styles

import (
	"fmt"
	"strings"

	"onward/rhythm"
)

// A Stroke is one thing to play in a measure of a pattern.
type Stroke struct {
	At   rhythm.Offset // from the start of the measure
	Hold rhythm.Duration
	// Play says what: see ParsePattern. Capitals come as small letters with Accent.
	Play   byte
	Accent bool
	// Short marks a stroke of one step, which is played detached.
	Short bool
}

// A Pattern is what a part plays: alternatives, of which one is drawn for each
// phrase, each of one or more measures that come in turn.
type Pattern [][][]Stroke

// strokeSigns are the signs of each kind of part.
var strokeSigns = map[string]string{
	"bass":    "1358r",
	"chords":  "xabcd",
	"counter": "x",
	"double":  "=",
	"drums":   "xofr",
}

// ParsePattern reads a pattern for the meter and kind of part. A measure is a row of
// signs that divide it evenly: one to the measure or to the felt beat, or a whole
// number to each of the meter's units; blanks between them are for the eye. | parts measures,
// / parts alternatives.
//
//	.  silence                          -  what was struck goes on
//	bass: 1 3 5 root, third, fifth; 8 the upper octave of the root; r one note of a run
//	      into the next root
//	chords: x the whole chord; a b c d its voices from the lowest up
//	counter: x a note of the line
//	double: = along with the bass, the whole measure
//	drums: x a stroke, o a soft one, f a flam, r a roll
//
// A capital X or F is accented. A stroke of one sign is detached, one that goes on
// with - is held to its end. "" is silence.
func ParsePattern(text string, m rhythm.Meter, kind string) (Pattern, error) {
	if text == "" {
		return nil, nil
	}
	var p Pattern
	for _, alternative := range strings.Split(text, "/") {
		var measures [][]Stroke
		for _, measure := range strings.Split(alternative, "|") {
			strokes, err := parseMeasure(strings.Join(strings.Fields(measure), ""), m, strokeSigns[kind])
			if err != nil {
				return nil, fmt.Errorf("pattern %q: %w", text, err)
			}
			measures = append(measures, strokes)
		}
		p = append(p, measures)
	}
	return p, nil
}

func parseMeasure(signs string, m rhythm.Meter, known string) ([]Stroke, error) {
	n := len(signs)
	even := n == 1 || n == m.Count() || n > 0 && n%m.Beats == 0 && n <= 8*m.Beats
	if !even || m.Measure()%rhythm.Duration(n) != 0 {
		return nil, fmt.Errorf("%d signs do not divide a measure of %s evenly; write %d or %d", n, m, m.Beats, 2*m.Beats)
	}
	step := m.Measure() / rhythm.Duration(n)
	var strokes []Stroke
	sounds := false
	for i := range len(signs) {
		sign := signs[i]
		switch {
		case sign == '.':
			sounds = false
		case sign == '-' && sounds:
			last := &strokes[len(strokes)-1]
			last.Hold, last.Short = last.Hold+step, false
		case sign == '-':
			return nil, fmt.Errorf("- at sign %d follows no stroke", i+1)
		default:
			small := sign
			if sign >= 'A' && sign <= 'Z' {
				small = sign - 'A' + 'a'
			}
			if strings.IndexByte(known, small) < 0 {
				return nil, fmt.Errorf("sign %q is not one of . - %s", sign, known)
			}
			strokes = append(strokes, Stroke{At: rhythm.Offset(0).Add(rhythm.Duration(i) * step), Hold: step, Play: small, Accent: small != sign, Short: true})
			sounds = true
		}
	}
	return strokes, nil
}
