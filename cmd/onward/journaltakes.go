package main

import (
	"encoding/json"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/report"
	"onward/compose/figure"
	"onward/theory"
)

// takeOf is a take as the report wants it: its figures and keys in words.
func takeOf(t *journal.PastTake, c *figure.Catalogue) (report.Take, error) {
	out := report.Take{
		Started: t.Started, Ended: t.Ended, Style: t.Style, Rung: t.Rung, Percent: t.Percent,
		Measures: t.Measures, Marked: t.Marked, StoppedAt: t.StoppedAt,
	}
	for _, s := range t.Slips {
		out.Slipped = append(out.Slipped, s.Measure)
	}
	if t.Loads != nil {
		if err := json.Unmarshal(t.Loads, &out.Loads); err != nil {
			return out, err
		}
	}
	if t.Figures == nil {
		return out, nil
	}
	var figures []metFigure
	if err := json.Unmarshal(t.Figures, &figures); err != nil {
		return out, err
	}
	for _, f := range figures {
		key, err := theory.ParseKey(f.Key)
		if err != nil {
			return out, err
		}
		out.Figures = append(out.Figures, report.Met{Figure: metWords(c, f), Key: keyWords(key), Measures: f.Measures})
	}
	return out, nil
}

// metWords says a figure: "three notes up the chord, on four eighths".
func metWords(c *figure.Catalogue, f metFigure) string {
	words := f.Shape // the player's own have a name that says it
	if s := c.Shape(f.Shape); s != nil {
		words = s.Words
	}
	return words + ", on " + f.Cell
}

// keyWords says a key: "E-flat major".
func keyWords(k theory.Key) string {
	return pitchWords(k.Tonic().In(4)) + " " + k.Mode.String()
}
