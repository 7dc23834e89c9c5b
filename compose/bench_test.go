package compose_test

import (
	"testing"

	"onward/compose"
	"onward/styles"
	"onward/theory"
)

func benchmark(b *testing.B, style, form string, rung int) {
	w := world(b)
	s, err := styles.Shipped(style)
	if err != nil {
		b.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	seed := uint64(0)
	for b.Loop() {
		seed++
		if _, err := compose.Compose(w, compose.Request{Style: s, Rung: rung, Instrument: in, Form: form, Seed: seed}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSnippet(b *testing.B)    { benchmark(b, "march", "snippet", 6) }
func BenchmarkStrain(b *testing.B)     { benchmark(b, "march", "strain", 6) }
func BenchmarkWholeMarch(b *testing.B) { benchmark(b, "march", "march", 6) }
