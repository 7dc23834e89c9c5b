package compose_test

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/styles"
	"onward/theory"
)

var update = flag.Bool("update", false, "write the digest of this version's reads anew")

// The reads of one generator version never change: who has an identity can make its read
// again. Where this fails, raise compose.Version and run the test with -update.
func TestReadsOfAVersionStay(t *testing.T) {
	const file = "testdata/version.txt"
	h := sha256.New()
	w := world(t)
	for i := range 48 {
		s, err := styles.Shipped(styles.Names()[i%2])
		if err != nil {
			t.Fatal(err)
		}
		instruments := theory.Instruments()
		r, err := compose.Compose(w, compose.Request{Style: s, Rung: 1 + i/2%12, Instrument: instruments[i%len(instruments)],
			Form: []string{"snippet", "strain"}[i/24], Seed: uint64(1000 + i)})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(h, r.Identity, score.Text(r.Score.Parts[0]), r.Load, r.LegalLog10)
	}
	got := fmt.Sprintf("%d %x\n", compose.Version, h.Sum(nil))
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("reads are not those of the version that is written down: %s, want %s", got, want)
	}
}
