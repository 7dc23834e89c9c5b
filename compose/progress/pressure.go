package progress

import "slices"

// Pressures are the steps of pressure, the mildest first: no look-over, a band that drops
// out and leaves the pulse to the player, another part beside, a page that is covered as it
// was read, and all the manners of an audition.
var Pressures = []string{"cold", "drop-out", "company", "cover", "panel"}

var pressureWords = map[string]string{
	"cold":     "You are at ease: this one without a look-over.",
	"drop-out": "You are at ease: the band will drop out and leave the pulse to you.",
	"company":  "You are at ease: another part will play beside you.",
	"cover":    "You are at ease: the page will be covered as you read it.",
	"panel":    "You are at ease: play this one as before a panel.",
}

// A climb is how far up the pressures a player has come. It goes one step up after
// comfortable takes in a row that had the step reached so far, and one down after a take
// with it that broke. The player who never takes a pressure stays before the first.
type climb struct {
	step int    // into Pressures of the next to be offered
	run  int    // comfortable takes in a row
	held int    // comfortable takes in a row with the step offered
	last string // the highest pressure of the latest take, "" for none
}

const (
	comfortRun = 3 // comfortable takes in a row before a pressure is offered
	comfortOne = 2 // and with a pressure, before the next is
)

// comfortable reports whether a take counted for full marks, 80 % right at an unbroken pulse,
// at the page's tempo or nearly.
func comfortable(t *Take) bool { return !t.stopped() && t.share() >= Least && t.percent() >= nearly }

// nearly is the slowest tempo, in percent, that is nearly the page's.
const nearly = 90

// broke reports whether a take was too much.
func broke(t *Take) bool { return t.stopped() || t.share() < Least-0.1 }

func (c *climb) add(t *Take) {
	c.last = highestPressure(t.Pressure)
	if !comfortable(t) {
		c.run = 0
	} else {
		c.run++
	}
	if c.last == "" {
		return
	}
	switch at := slices.Index(Pressures, c.last); {
	case broke(t):
		c.step, c.held = max(min(c.step, at)-1, 0), 0
	case comfortable(t) && at >= c.step:
		if c.held++; c.held >= comfortOne {
			c.step, c.held = min(at+1, len(Pressures)-1), 0
		}
	}
}

// offer is the pressure to add to the next take, "" for none: only after comfortable takes
// in a row, and not twice running.
func (c *climb) offer() string {
	if c.run < comfortRun || c.last != "" {
		return ""
	}
	return Pressures[c.step]
}

// highestPressure is the highest of the pressures, "" of none that is known.
func highestPressure(all []string) string {
	at := -1
	for _, p := range all {
		at = max(at, slices.Index(Pressures, p))
	}
	if at < 0 {
		return ""
	}
	return Pressures[at]
}
