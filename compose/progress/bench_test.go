package progress_test

import (
	"testing"

	"onward/compose/progress"
)

// BenchmarkRead makes the model of a thousand takes of real reads anew.
func BenchmarkRead(b *testing.B) {
	h := openHall()
	var history []progress.Take
	for i := range 1000 {
		reads := h.byRung["march"][4+i%4]
		page := append([]progress.Measure(nil), h.pages[reads[i%len(reads)]]...)
		for j := range page {
			page[j].Pitch = (i+j)%7 == 0
		}
		history = append(history, progress.Take{At: day0.AddDate(0, 0, i/3), Style: "march", Rung: 5 + i%4, Measures: page, StoppedAt: -1, Marked: true})
	}
	b.ReportAllocs()
	for b.Loop() {
		progress.Read(history, h.rungs)
	}
}
