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
	for _, m := range report.Mishaps {
		words = append(words, mishapWords(roll, m))
	}
	switch {
	case len(words) > 0 && report.Dropped > 0:
		words = append(words, count(report.Dropped, "note")+" left out meanwhile")
	case len(words) == 0 && report.Dropped+report.VeryLate+report.Hopeless > 0:
		words = append(words, fmt.Sprintf("this machine was busy: %s came late, %d were left out (%s)",
			count(report.VeryLate+report.Hopeless, "event"), report.Dropped, report.Clock))
	}
	return words
}

// mishapWords says what befell a take, and in which measures.
func mishapWords(roll *live.Roll, m live.Mishap) string {
	from, to := placeAt(roll, m.From), placeAt(roll, m.To)
	took := (m.To - m.From).Round(100 * time.Millisecond)
	switch m.What {
	case live.PortLost:
		return fmt.Sprintf("the MIDI port was gone for %v, from %s to %s; the band counted on", took, from, to)
	case live.PortRefused:
		return fmt.Sprintf("the MIDI port took some messages late or not at all, from %s to %s", from, to)
	case live.HeldUp:
		return fmt.Sprintf("this machine held the band up for %v at %s; it went on where it would have been, at %s", took, from, to)
	case live.Asleep:
		return fmt.Sprintf("this machine slept for %v at %s; the band went on where it would have been, at %s", took, from, to)
	}
	return m.String()
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
