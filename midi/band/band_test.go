package band_test

import (
	"testing"

	"onward/midi/band"
	"onward/midi/timeline"
)

// Arrange checks its own timeline; this one asks for all there is.
func TestEveryReadHasABand(t *testing.T) {
	for _, p := range everyRead(t, band.Options{Guide: true, Click: true, CountIn: timeline.FullCountIn()}) {
		if err := p.t.Check(); err != nil {
			t.Errorf("%s: %v", p.name, err)
		}
	}
}
