package band_test

import (
	"testing"

	"onward/midi/band"
	"onward/midi/timeline"
)

// BenchmarkArrange arranges whole marches and songs with all that there is.
func BenchmarkArrange(b *testing.B) {
	var whole []asked
	for _, a := range reads(b) {
		if len(a.r.Sections) > 2 {
			whole = append(whole, a)
		}
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, err := band.Arrange(whole[i%len(whole)].r, band.Options{Guide: true, CountIn: timeline.FullCountIn()}); err != nil {
			b.Fatal(err)
		}
	}
}
