package main

import (
	"fmt"
	"strings"
	"time"

	"onward/compose/warmup"
)

// The words of a warm-up are for a screen a step or two away: as narrow as will do, so that
// the letters can be large, and on one screen.
var warmupWidths = []int{40, 48, 56, 64, 79}

const warmupHeight = 23 // lines of a screen of 24, the prompt's left out

// warmupWords tells a warm-up to be played from the head; on a terminal what to play is
// bold.
func warmupWords(date time.Time, d *warmup.Day, bold bool) string {
	var lines []string
	for _, width := range warmupWidths {
		if lines = warmupLines(date, d, width, bold); len(lines) <= warmupHeight {
			break
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

func warmupLines(date time.Time, d *warmup.Day, width int, bold bool) []string {
	lines := wrap(fmt.Sprintf("%s: %s%s, %d minutes", strings.ToUpper(date.Format("Monday 2 January")), warmup.KeyWords(d.Written), concertWords(d), d.Minutes), width)
	return append(lines, exerciseLines(d, width, bold)...)
}

// exerciseLines tell the exercises alone, and the cautions.
func exerciseLines(d *warmup.Day, width int, bold bool) (lines []string) {
	for i := range d.Exercises {
		e := &d.Exercises[i]
		head := fmt.Sprintf("%d ", i+1)
		for _, line := range wrap(briefly.Replace(e.Title), width-2) {
			if bold {
				line = "\x1b[1m" + line + "\x1b[0m"
			}
			lines = append(lines, head+line)
			head = "  "
		}
		often := "once"
		if e.Times > 1 {
			often = count(e.Times, "time")
		}
		how := fmt.Sprintf("%s = %d, %s", beatWords(e.Meter), e.Tempo, often)
		for _, text := range []string{briefly.Replace(e.Rhythm + ": " + e.Tongue), how} {
			for _, line := range wrap(text, width-2) {
				lines = append(lines, "  "+line)
			}
		}
	}
	for _, caution := range warmupCautions {
		lines = append(lines, wrap(caution, width)...)
	}
	return lines
}

// briefly writes numbers in figures: "slur 2, tongue 2", "to the 9th".
var briefly = strings.NewReplacer(
	" two", " 2", " three", " 3", " four", " 4", " one", " 1",
	"thirds", "3rds", "third,", "3rd,", "third ", "3rd ", "fourth", "4th", "fifth", "5th", "sixth", "6th", "seventh,", "7th,", "seventh ", "7th ", "ninth", "9th", "tenth", "10th",
	"eleventh", "11th", "twelfth", "12th", "thirteenth", "13th", "fourteenth", "14th", "fifteenth", "15th",
)

// concertWords names the concert key where the player's is another.
func concertWords(d *warmup.Day) string {
	if d.Concert == d.Written {
		return ""
	}
	return " (concert " + warmup.KeyWords(d.Concert) + ")"
}
