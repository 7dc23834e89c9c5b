package musicxml

import (
	"fmt"
	"strings"

	"onward/rhythm"
)

// plainMicros is the tempo of a piece that says nothing of it, a quarter = 120 (Standard
// MIDI Files 1.0).
const plainMicros = 500_000

// tempoWords are felt beats a minute by the word that a tempo begins with; lists differ,
// these are common practice.
var tempoWords = []struct {
	word  string
	beats int
}{
	{"larghetto", 63}, {"largo", 50}, {"grave", 42}, {"lento", 54}, {"lent", 54}, {"adagietto", 72}, {"adagio", 70},
	{"andantino", 88}, {"andante", 84}, {"moderato", 112}, {"allegretto", 116}, {"allegro moderato", 116}, {"allegro", 132},
	{"vivace", 160}, {"vivo", 160}, {"prestissimo", 200}, {"presto", 180}, {"march", 116}, {"tempo di marcia", 116}, {"maestoso", 88},
	{"slow", 60}, {"moderately", 108}, {"fast", 144}, {"langsam", 56}, {"mäßig", 96}, {"schnell", 144},
}

// opening gives the first measure a tempo at its start, if it has none.
func (d *pieceDocument) opening() {
	first := &d.piece.Measures[0]
	if len(first.Tempos) > 0 && first.Tempos[0].At == 0 {
		return
	}
	micros, said := plainMicros, "no tempo at the start: a quarter = 120 was taken"
	for _, r := range d.readers {
		if beats, word := wordTempo(r.all); beats > 0 {
			minute := int64(beats) * int64(first.Meter.Beat()) // in ticks
			micros = int((60_000_000*int64(rhythm.Quarter) + minute/2) / minute)
			said = fmt.Sprintf("no tempo in figures at the start: for %q %d beats a minute were taken", word, beats)
			break
		}
	}
	first.Tempos = append([]PieceTempo{{0, micros}}, first.Tempos...)
	d.piece.Warnings = append(d.piece.Warnings, Warning{Part: d.readers[0].name, Measure: first.Label, Times: 1, Text: said})
}

// wordTempo reports what the words at the start of a part mean, in felt beats a minute; 0
// for nothing.
func wordTempo(all []rawPiece) (beats int, word string) {
	if len(all) == 0 {
		return 0, ""
	}
	for _, t := range tempoWords {
		if strings.HasPrefix(all[0].tempoWord, t.word) && len(t.word) > len(word) {
			beats, word = t.beats, t.word
		}
	}
	return beats, word
}
