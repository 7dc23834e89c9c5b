package live

import (
	"fmt"
	"slices"
	"sort"
	"time"
)

// The classes of lateness. On time and late differ for the ear (an onset displaced
// by less than about 10 ms is hard to hear: common practice); very late and
// hopeless differ in what is done. State - a note-off, controller or program - is
// sent at once however late it is.
const (
	// LateAfter begins late: a note is played, and counted in the report.
	LateAfter = 10 * time.Millisecond
	// VeryLateAfter begins very late: a note is played only while more of it is
	// still to come than was lost, and a percussion stroke not at all.
	VeryLateAfter = 40 * time.Millisecond
	// HopelessAfter begins hopeless: a note is dropped together with its note-off.
	HopelessAfter = 200 * time.Millisecond
	// RestoreAtLeast is what a held note must still have to sound for it to be
	// struck again on a port that came back.
	RestoreAtLeast = 100 * time.Millisecond
)

// percussion is the channel of drums, counted from 0 (General MIDI 1: channel 10).
const percussion = 9

// worth reports whether a note-on still helps the player, late after its time and
// with left to sound.
func worth(late, left time.Duration, channel uint8) bool {
	switch {
	case late < VeryLateAfter:
		return true
	case late < HopelessAfter:
		return channel != percussion && left > late
	}
	return false
}

// A Report says how a take went.
type Report struct {
	Clock    string        // how time was kept: the clock, and what priority was had
	Played   time.Duration // from the start to the end or to where it was left
	Left     bool          // left before its end
	Silent   bool          // the port took the last note-offs
	Events   int           // how many events came due
	Late     int           // of these late
	VeryLate int           // of these very late
	Hopeless int           // of these hopeless
	Dropped  int           // notes not played, being too late or the port away
	Errors   int           // sends that failed
	Reopened int           // times the port was lost and found
	// Lateness of the events, against their deadlines: median, 99 %, 99.9 %, worst.
	P50, P99, P999, Max time.Duration
	// Drift is the median lateness of the last minute less that of the first; in a take
	// under two minutes, of its halves.
	Drift time.Duration
	// Allocated and Collected count what the process did to its memory during the take,
	// all that it does beside playing included; Serve sets them.
	Allocated, Collected int
	Mishaps              []Mishap // in order of time
	Sink                 string   // what befell the sink in its own words; "" if nothing did
}

// String reports the take in a line for whoever looks after the program.
func (r Report) String() string {
	s := fmt.Sprintf("%d events, lateness p50 %v p99 %v p99.9 %v max %v; %d late, %d very late, %d hopeless, "+
		"%d notes dropped, %d send errors, port found again %d times (%s)", r.Events, r.P50, r.P99, r.P999, r.Max,
		r.Late, r.VeryLate, r.Hopeless, r.Dropped, r.Errors, r.Reopened, r.Clock)
	for _, m := range r.Mishaps {
		s += "; " + m.String()
	}
	if r.Sink != "" {
		s += "; " + r.Sink
	}
	return s
}

// count notes one event's lateness in its class.
func (r *Report) count(late time.Duration) {
	r.Events++
	switch {
	case late < LateAfter:
	case late < VeryLateAfter:
		r.Late++
	case late < HopelessAfter:
		r.VeryLate++
	default:
		r.Hopeless++
	}
}

// sum fills in the percentiles and the drift of the events of roll that came due; it
// sorts late.
func (r *Report) sum(roll *Roll, late []time.Duration) {
	if len(late) == 0 {
		return
	}
	last := roll.Events[len(late)-1].At
	span := min(time.Minute, last/2)
	after := func(at time.Duration) int {
		return sort.Search(len(late), func(i int) bool { return roll.Events[i].At > at })
	}
	if first, end := late[:after(span)], late[after(last-span):]; len(first) > 0 && len(end) > 0 {
		slices.Sort(first)
		slices.Sort(end)
		r.Drift = end[len(end)/2] - first[len(first)/2]
	}
	slices.Sort(late)
	at := func(perMille int) time.Duration { return late[(len(late)-1)*perMille/1000] }
	r.P50, r.P99, r.P999, r.Max = at(500), at(990), at(999), at(1000)
}
