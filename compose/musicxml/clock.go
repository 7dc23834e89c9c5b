package musicxml

import (
	"fmt"
	"strconv"
	"strings"

	"onward/rhythm"
)

// A clock keeps the place in a measure while notes, backups and forwards go by. It
// counts in thousandths of a division, for durations may have three decimal places, so
// that those that are no whole number of ticks do not add up their rounding.
type clock struct {
	divisions int64         // of a quarter, at least 1
	settled   bool          // the file has said the divisions
	raw       int64         // the place, in thousandths of a division
	at        rhythm.Offset // the place, in ticks
	end       rhythm.Duration
	last      rhythm.Offset // where the last note began that is no member of a chord
	begun     bool          // there is one in the measure
}

// fineness is how many parts a division has.
const fineness = 1000

// longestMeasure is how long a measure may be: 64 whole notes.
const longestMeasure = 64 * rhythm.Whole

// start begins a measure.
func (c *clock) start() { c.raw, c.at, c.end, c.begun = 0, 0, 0, false }

// divide takes the divisions of a quarter from here on.
func (c *clock) divide(text string) error {
	d, den, err := decimal(text)
	if err != nil || den != 1 || d < 1 || d > maxDivisions {
		return fmt.Errorf("divisions %.40q is not a whole number from 1 to %d", text, maxDivisions)
	}
	c.raw = c.raw * d / c.divisions
	c.divisions, c.settled = d, true
	return nil
}

// move goes forward, or back where way is -1, by a duration; before reports that this led
// beyond the start of the measure, where it stops.
func (c *clock) move(duration string, way int64) (before bool, err error) {
	d, err := c.parts(duration)
	if err != nil {
		return false, err
	}
	c.raw += way * d
	before = c.raw < 0
	c.raw = max(0, c.raw)
	c.at = c.ticks(c.raw)
	return before, c.reach()
}

// parts reads a duration in thousandths of a division.
func (c *clock) parts(text string) (int64, error) {
	num, den, err := decimal(text)
	if err != nil || num < 0 {
		return 0, fmt.Errorf("duration %.40q is not a number of divisions", text)
	}
	return num * fineness / den, nil
}

// ticks is a place in thousandths of a division, to the nearest tick.
func (c *clock) ticks(parts int64) rhythm.Offset {
	den := c.divisions * fineness
	return rhythm.Offset((parts*int64(rhythm.Quarter) + den/2) / den)
}

// reach makes the measure as long as has been gone.
func (c *clock) reach() error {
	if rhythm.Duration(c.at) > longestMeasure {
		return fmt.Errorf("the measure is longer than 64 whole notes")
	}
	c.end = max(c.end, rhythm.Duration(c.at))
	return nil
}

// within reports whether so many ticks are less than a division.
func (c *clock) within(ticks int64) bool {
	return max(ticks, -ticks)*c.divisions < int64(rhythm.Quarter)
}

// A timed note is how long a note lasts.
type timed struct {
	length rhythm.Duration // 0 or more
	fits   bool            // the written value lasts as long
	parts  int64           // the length as the file counts it, -1 where it does not
}

// lasts settles how long a note lasts: as its duration says, or as its written value says
// (the zero Value for none) where the two differ by less than a division, which is
// rounding, or where it has no duration.
func (c *clock) lasts(e *element, value rhythm.Value) (timed, error) {
	var written rhythm.Duration
	if value.Base != 0 {
		written = value.Duration()
	}
	text := e.word("duration")
	if text == "" {
		if written == 0 {
			return timed{}, fmt.Errorf("a note has neither duration nor type")
		}
		return timed{written, true, -1}, nil
	}
	parts, err := c.parts(text)
	if err != nil {
		return timed{}, err
	}
	c.guess(parts, written)
	if written != 0 && c.within(int64(written)-int64(c.ticks(parts))) {
		return timed{written, true, parts}, nil
	}
	length := rhythm.Duration(c.ticks(c.raw+parts) - c.ticks(c.raw))
	if length > longestMeasure {
		return timed{}, fmt.Errorf("a note is longer than 64 whole notes")
	}
	return timed{length, false, parts}, nil
}

// guess takes the divisions that the file does not say from its first note.
func (c *clock) guess(parts int64, written rhythm.Duration) {
	if c.settled || written == 0 || parts == 0 {
		return
	}
	c.settled = true
	if d := (parts*int64(rhythm.Quarter)/int64(written) + fineness/2) / fineness; d >= 1 && d <= maxDivisions {
		c.divisions = d
	}
}

// pass goes on behind a note, which is no member of a chord.
func (c *clock) pass(t timed) error {
	c.last, c.begun = c.at, true
	if t.parts < 0 {
		c.at = c.at.Add(t.length)
		c.raw = int64(c.at) * c.divisions * fineness / int64(rhythm.Quarter)
		return c.reach()
	}
	c.raw += t.parts
	exact := c.ticks(c.raw)
	if next := c.at.Add(t.length); t.fits && c.within(int64(next-exact)) {
		c.at = next
	} else {
		c.at = exact
	}
	return c.reach()
}

// joins reports whether a note is a further member of the chord at last; one that says so
// without a first note before it is a note like others.
func (c *clock) joins(e *element) bool { return c.begun && e.has("chord") }

// offset reports the place of something that stands a length away from here, as its
// offset element says.
func (c *clock) offset(e *element) rhythm.Offset {
	num, den, err := decimal(e.word("offset"))
	if err != nil {
		return c.at
	}
	return max(0, min(rhythm.Offset(longestMeasure), c.at+rhythm.Offset(num*int64(rhythm.Quarter)/(den*c.divisions))))
}

// decimal reads "12" or "-2.5" as a fraction, at most three places.
func decimal(text string) (num, den int64, err error) {
	whole, places, _ := strings.Cut(strings.TrimSpace(text), ".")
	places = strings.TrimRight(places, "0")
	if len(whole) > 9 || len(places) > 3 {
		return 0, 1, fmt.Errorf("number %.40q is too long", text)
	}
	den = 1
	for range places {
		den *= 10
	}
	num, err = strconv.ParseInt(whole+places, 10, 64)
	return num, den, err
}

// numberOf reads a measure's number; one that is no whole number is not numbered and
// bears the number before.
func numberOf(e *element, before int) (n int, implicit bool) {
	n, err := strconv.Atoi(e.attr("number"))
	if err != nil {
		return before, true
	}
	return n, e.attr("implicit") == "yes"
}
