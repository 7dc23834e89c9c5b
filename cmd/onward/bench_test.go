package main

import (
	"bytes"
	"context"
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"
)

// BenchmarkBatch measures a batch of 1,000 snippets, files and journal included, into an
// empty journal and into one of 1,000 reads and more.
func BenchmarkBatch(b *testing.B) {
	b.Chdir(b.TempDir())
	e := thisMachine()
	e.out = &bytes.Buffer{}
	for i := 0; b.Loop(); i++ {
		args := []string{"write", "--count", "1000", "--seed", fmt.Sprint(1000 * i), "--journal", "j.db", "--out", "out"}
		if code := run(context.Background(), e, args); code != exitFine {
			b.Fatal("exit code", code)
		}
	}
}

// BenchmarkProcess measures the whole program, from start to end, as it writes a snippet.
func BenchmarkProcess(b *testing.B) {
	program := filepath.Join(b.TempDir(), "onward")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	b.Chdir(b.TempDir())
	for i := 0; b.Loop(); i++ {
		if out, err := exec.Command(program, "write", "--seed", fmt.Sprint(i), "--journal", "j.db").CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
	}
}
