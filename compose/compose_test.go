package compose_test

import (
	"errors"
	"fmt"
	"runtime"
	"sync"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
)

// freshWorld is a world without a past. Its copies share what is made of drills and of what
// was learned.
var freshWorld = sync.OnceValues(func() (compose.World, error) {
	l, err := ladder.Default(figure.Default())
	return compose.NewWorld(figure.Default(), l), err
})

func world(t testing.TB) *compose.World {
	t.Helper()
	w, err := freshWorld()
	if err != nil {
		t.Fatal(err)
	}
	return &w
}

// composed makes the reads that are asked for, as many at once as there are cores.
func composed(t testing.TB, w *compose.World, requests []compose.Request) []*compose.Read {
	t.Helper()
	out, errs := make([]*compose.Read, len(requests)), make([]error, len(requests))
	next := make(chan int)
	var cores sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		cores.Go(func() {
			for i := range next {
				if out[i], errs[i] = compose.Compose(w, requests[i]); errs[i] != nil {
					errs[i] = fmt.Errorf("%s: %w", requests[i].Identity(), errs[i])
				}
			}
		})
	}
	for i := range requests {
		next <- i
	}
	close(next)
	cores.Wait()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	return out
}
