package main

import (
	"slices"
	"testing"
	"time"

	"onward/midi/live"
)

// What befell the band is told as often as it did, each time by itself with its own length,
// in milliseconds where it was short, and with the right sum.
func TestBandWords(t *testing.T) {
	const ms = time.Millisecond
	roll := &live.Roll{End: 20 * time.Second}
	for i := range 10 { // a measure lasts two seconds
		roll.Beats = append(roll.Beats, live.Beat{At: time.Duration(i) * 2 * time.Second, Measure: i, Number: i + 1})
	}
	befell := func(what string, length time.Duration, at ...time.Duration) (all []live.Mishap) {
		for _, from := range at {
			all = append(all, live.Mishap{What: what, From: from, To: from + length, Times: 1, Took: length})
		}
		return all
	}
	many := make([]time.Duration, 9)
	for i := range many {
		many[i] = time.Duration(i) * 1500 * ms
	}
	for _, c := range []struct {
		report live.Report
		want   []string
	}{
		{live.Report{}, nil},
		{live.Report{Mishaps: befell(live.HeldUp, 40*ms, 2500*ms)},
			[]string{"this machine held the band up for 40 ms at measure 2; it went on where it would have been"}},
		{live.Report{Mishaps: befell(live.HeldUp, 999_600*time.Microsecond, 1500*ms), Dropped: 1},
			[]string{"this machine held the band up for 1.0 s from measure 1 to measure 2; it went on where it would have been", "1 note left out meanwhile"}},
		{live.Report{Mishaps: befell(live.HeldUp, 60*ms, 1000*ms, 2200*ms, 3400*ms, 4600*ms, 5800*ms), Dropped: 2},
			[]string{"this machine held the band up 5 times, 300 ms in all: 60 ms at measure 1, 60 ms at measure 2, 60 ms at measure 2, 60 ms at measure 3, 60 ms at measure 3; " +
				"it went on where it would have been", "2 notes left out meanwhile"}},
		{live.Report{Mishaps: append(befell(live.PortLost, 300*ms, 0, 6*time.Second), befell(live.HeldUp, 1200*ms, 8*time.Second)...)},
			[]string{"this machine held the band up for 1.2 s at measure 5; it went on where it would have been",
				"the MIDI port was gone 2 times, 600 ms in all: 300 ms at measure 1, 300 ms at measure 4; the band counted on"}},
		{live.Report{Mishaps: befell(live.HeldUp, 50*ms, many...)},
			[]string{"this machine held the band up 9 times, 450 ms in all, from measure 1 to measure 7; it went on where it would have been"}},
		{live.Report{Mishaps: []live.Mishap{{What: live.PortLost, From: 0, To: 9 * time.Second, Times: 3, Took: 2 * time.Second}}},
			[]string{"the MIDI port was gone 3 times, 2.0 s in all, from measure 1 to measure 5; the band counted on"}},
		{live.Report{Mishaps: befell(live.Asleep, 65*time.Second, 3*time.Second)},
			[]string{"this machine slept for 1m5s from measure 2 to the end; the band went on where it would have been"}},
		{live.Report{Mishaps: []live.Mishap{{What: live.PortRefused, From: 3 * time.Second, To: 5 * time.Second, Times: 40}}},
			[]string{"the MIDI port took some messages late or not at all, from measure 2 to measure 3"}},
		{live.Report{VeryLate: 1, Hopeless: 1, Dropped: 1, Clock: "time.Sleep"},
			[]string{"this machine was busy: 2 events came late, 1 note left out (time.Sleep)"}},
	} {
		if got := bandWords(roll, c.report); !slices.Equal(got, c.want) {
			t.Errorf("got %q\nwant %q", got, c.want)
		}
	}
}
