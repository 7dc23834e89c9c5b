package main

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// steady are clicks a period apart, from start on.
func steady(start time.Duration) (clicks []time.Duration) {
	for i := range tapsListened + tapsCounted {
		clicks = append(clicks, start+time.Duration(i)*tapPeriod)
	}
	return clicks
}

const ms = time.Millisecond

func TestMeasureTaps(t *testing.T) {
	clicks := steady(time.Second)
	along := func(offset time.Duration, change func(i int, tap time.Duration) []time.Duration) (taps []time.Duration) {
		for i, c := range clicks {
			taps = append(taps, change(i, c+offset)...)
		}
		return taps
	}
	same := func(_ int, tap time.Duration) []time.Duration { return []time.Duration{tap} }
	for _, c := range []struct {
		name string
		taps []time.Duration
		want tapping
	}{
		{"exact", along(38*ms, same), tapping{38 * ms, 0, 32}},
		{"ahead", along(-45*ms, same), tapping{-45 * ms, 0, 32}},
		{"a slow loudspeaker", along(310*ms, same), tapping{310 * ms, 0, 32}},
		{"late into it", along(20*ms, func(i int, tap time.Duration) []time.Duration {
			if i < tapsListened+10 {
				return nil
			}
			return []time.Duration{tap}
		}), tapping{20 * ms, 0, 22}},
		{"the first four are wild", along(38*ms, func(i int, tap time.Duration) []time.Duration {
			if i < tapsListened {
				tap += 140 * ms
			}
			return []time.Duration{tap}
		}), tapping{38 * ms, 0, 32}},
		{"a key that bounces", along(38*ms, func(i int, tap time.Duration) []time.Duration {
			return []time.Duration{tap, tap + 15*ms, tap + 30*ms}
		}), tapping{38 * ms, 0, 32}},
		{"each sixth far off", along(38*ms, func(i int, tap time.Duration) []time.Duration {
			if i%6 == 5 {
				tap += 170 * ms
			}
			return []time.Duration{tap}
		}), tapping{38 * ms, 0, 26}},
		{"now 30, now 50", along(40*ms, func(i int, tap time.Duration) []time.Duration {
			return []time.Duration{tap + 10*ms - time.Duration(i%2)*20*ms}
		}), tapping{40 * ms, 10 * ms, 32}},
	} {
		got, err := measureTaps(clicks, c.taps)
		if err != nil || got != c.want {
			t.Errorf("%s: got %+v, %v; want %+v", c.name, got, err, c.want)
		}
	}
}

func TestMeasureTapsRefuses(t *testing.T) {
	clicks := steady(0)
	rng := rand.New(rand.NewPCG(1, 2))
	var few, wild []time.Duration
	for i, c := range clicks {
		if i%3 == 0 {
			few = append(few, c)
		}
		wild = append(wild, c+time.Duration(rng.IntN(590))*ms-140*ms)
	}
	for _, c := range []struct {
		taps []time.Duration
		want string
	}{{nil, "0 taps could be used"}, {few, "tap once with every click"}, {wild, "too far apart"}} {
		if got, err := measureTaps(clicks, c.taps); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d taps: got %+v, %v; want an error with %q", len(c.taps), got, err, c.want)
		}
	}
}

// Taps of normal spread around an offset give it back, within what chance allows: the
// standard error of a median of 32 is 1.25 × spread/√32, a fifth of it.
func TestMeasureTapsFindsTheOffset(t *testing.T) {
	clicks := steady(0)
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 7))
		offset := time.Duration(rng.IntN(300)-60) * ms
		var taps []time.Duration
		for _, c := range clicks {
			taps = append(taps, c+offset+time.Duration(rng.NormFloat64()*float64(20*ms)))
		}
		got, err := measureTaps(clicks, taps)
		if err != nil || (got.offset-offset).Abs() > 20*ms {
			t.Errorf("seed %d: got %+v, %v; want %v within 20 ms", seed, got, err, offset)
		}
		if got.spread < 5*ms || got.spread > 26*ms { // 0.67 of the standard deviation
			t.Errorf("seed %d: spread %v, want about 13 ms", seed, got.spread)
		}
	}
}
