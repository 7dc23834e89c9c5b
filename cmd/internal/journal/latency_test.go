package journal

import (
	"context"
	"testing"
	"time"
)

func TestLatencyIsKeptForEachSink(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	for _, k := range []struct {
		sink    string
		latency time.Duration
	}{{"sound Speakers", 38 * time.Millisecond}, {"port Piano", 0}, {"sound Speakers", 41600 * time.Microsecond}} {
		if err := j.KeepLatency(ctx, k.sink, k.latency); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		sink  string
		want  time.Duration
		known bool
	}{{"sound Speakers", 42 * time.Millisecond, true}, {"port Piano", 0, true}, {"sound Headphones", 0, false}} {
		got, known, err := j.Latency(ctx, c.sink)
		if err != nil || got != c.want || known != c.known {
			t.Errorf("%s: got %v, %v, %v; want %v, %v", c.sink, got, known, err, c.want, c.known)
		}
	}
}

func TestLatencyRefused(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	for _, c := range []struct {
		sink    string
		latency time.Duration
	}{{"", 0}, {"port Piano", -time.Millisecond}, {"port Piano", MaxLatency + time.Millisecond}} {
		if err := j.KeepLatency(ctx, c.sink, c.latency); err == nil {
			t.Errorf("%q, %v: was kept", c.sink, c.latency)
		}
		if _, known, _ := j.Latency(ctx, c.sink); known {
			t.Errorf("%q, %v: is known", c.sink, c.latency)
		}
	}
}
