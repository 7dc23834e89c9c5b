package room

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"onward/cmd/internal/session"
)

// TestMain runs the tests, or shows the room with the invented studio, to be looked at:
//
//	go test -c -o /tmp/room.test ./cmd/internal/room && ONWARD_ROOM=demo /tmp/room.test
func TestMain(m *testing.M) {
	if os.Getenv("ONWARD_ROOM") != "demo" {
		os.Exit(m.Run())
	}
	start := time.Now()
	clock := func() time.Duration { return time.Since(start) }
	s := session.New(context.Background(), &studio{plan: true, clock: clock, wait: sleep}, clock, sleep)
	if err := Run(context.Background(), s, Options{In: os.Stdin, Out: os.Stdout}); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	s.Wait()
}
