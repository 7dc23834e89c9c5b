package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"onward/midi/live"
)

// tellBand says what befell the band and its sound in a take, if anything did.
func tellBand(b *strings.Builder, roll *live.Roll, report live.Report) {
	for _, words := range bandWords(roll, report) {
		field(b, "band", words)
	}
	if report.Sink != "" {
		field(b, "sound", report.Sink)
	}
}

// bandWords say what befell the band in a take, if anything did.
func bandWords(roll *live.Roll, report live.Report) (words []string) {
	for _, what := range []string{live.Asleep, live.HeldUp, live.PortLost, live.PortRefused} {
		if w := mishapWords(roll, what, report.Mishaps); w != "" {
			words = append(words, w)
		}
	}
	switch {
	case len(words) > 0 && report.Dropped > 0:
		words = append(words, count(report.Dropped, "note")+" left out meanwhile")
	case len(words) == 0 && report.Dropped+report.VeryLate+report.Hopeless > 0:
		words = append(words, fmt.Sprintf("this machine was busy: %s came late, %s left out (%s)",
			count(report.VeryLate+report.Hopeless, "event"), count(report.Dropped, "note"), report.Clock))
	}
	return words
}

// mostTold is how many mishaps of a kind are told each by itself; more are summed up.
const mostTold = 8

// mishapWords says what of a kind befell a take, how often, for how long and in which
// measures; "" if nothing did.
func mishapWords(roll *live.Roll, what string, mishaps []live.Mishap) string {
	var each []string
	times, took, from, to := 0, time.Duration(0), "", ""
	for _, m := range mishaps {
		if m.What != what {
			continue
		}
		times += m.Times
		took += m.Took
		at := placeAt(roll, m.From)
		if from == "" {
			from = at
		}
		to = placeAt(roll, m.To)
		each = append(each, lengthOf(m.Took)+" at "+at)
	}
	if times == 0 {
		return ""
	}
	span := "from " + from + " to " + to
	if from == to {
		span = "at " + from
	}
	lasted := "for " + lengthOf(took) + " " + span
	if times > 1 {
		lasted = fmt.Sprintf("%d times, %s in all, %s", times, lengthOf(took), span)
		if times == len(each) && times <= mostTold {
			lasted = fmt.Sprintf("%d times, %s in all: %s", times, lengthOf(took), strings.Join(each, ", "))
		}
	}
	switch what {
	case live.PortLost:
		return "the MIDI port was gone " + lasted + "; the band counted on"
	case live.PortRefused:
		return "the MIDI port took some messages late or not at all, " + span
	case live.HeldUp:
		return "this machine held the band up " + lasted + "; it went on where it would have been"
	}
	return "this machine slept " + lasted + "; the band went on where it would have been"
}

// lengthOf says how long something lasted: "60 ms", "1.5 s", "1m5s".
func lengthOf(d time.Duration) string {
	switch {
	case d < time.Second-time.Millisecond/2:
		return fmt.Sprintf("%d ms", max(1, d.Round(time.Millisecond).Milliseconds()))
	case d < time.Minute-50*time.Millisecond:
		return fmt.Sprintf("%.1f s", d.Seconds())
	}
	return d.Round(time.Second).String()
}

// placeAt says where a take is at a time on it.
func placeAt(roll *live.Roll, at time.Duration) string {
	if at >= roll.End {
		return "the end"
	}
	i, on := slices.BinarySearchFunc(roll.Beats, at, func(b live.Beat, at time.Duration) int { return int(b.At - at) })
	if on {
		i++
	}
	switch {
	case i == 0:
		return "the start"
	case roll.Beats[i-1].Measure < 0:
		return "the count-in"
	}
	return measureWords(roll.Beats[i-1].Number)
}
