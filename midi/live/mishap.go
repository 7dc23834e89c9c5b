package live

import (
	"fmt"
	"time"
)

// What may befall a take.
const (
	PortLost    = "port lost"    // sends failed until the port was found again
	PortRefused = "port refused" // the port took messages late or not at all
	HeldUp      = "held up"      // the player itself stood still
	Asleep      = "asleep"       // the machine slept
)

// A Mishap is something that befell a take between two times on it. The take went on.
type Mishap struct {
	What     string
	From, To time.Duration
	// Times is how often it befell the take in there, and Took how long in all.
	Times int
	Took  time.Duration
}

func (m Mishap) String() string {
	return fmt.Sprintf("%s %d times from %v to %v, for %v in all", m.What, m.Times,
		m.From.Round(time.Millisecond), m.To.Round(time.Millisecond), m.Took.Round(time.Millisecond))
}

const (
	// mostMishaps are told of a take each by itself; room for them is made ahead, and for
	// one more of each kind, which sums up what comes after them.
	mostMishaps = 64
	mishapKinds = 4
	// oneRefusal is how near to each other two messages are refused that are one mishap:
	// a busy port refuses many.
	oneRefusal = 2 * time.Second
)

// befell notes a mishap; it does not allocate.
func (p *player) befell(what string, from, to time.Duration) {
	all := p.report.Mishaps
	last := len(all) - 1
	for last >= 0 && all[last].What != what {
		last--
	}
	if last >= mostMishaps || last >= 0 && what == PortRefused && from-all[last].To < oneRefusal {
		m := &all[last]
		m.To = max(m.To, to)
		m.Times++
		m.Took += to - from
		return
	}
	p.report.Mishaps = append(all, Mishap{what, from, to, 1, to - from}) // there is room, see mostMishaps
}

// refusedFrom reports since when a port is lost that was found so at now: since its first
// refusal, if that was just now; it is then no longer a mishap of its own.
func (p *player) refusedFrom(now time.Duration) time.Duration {
	all := p.report.Mishaps
	if len(all) == 0 {
		return now
	}
	last := all[len(all)-1]
	if last.What != PortRefused || last.Times > 1 || now-last.To >= oneRefusal {
		return now
	}
	p.report.Mishaps = all[:len(all)-1]
	return last.From
}

// stood notes that the player, who wanted to look again at wanted, does so at now.
func (p *player) stood(wanted, now time.Duration) {
	if now-wanted < VeryLateAfter {
		return
	}
	what := HeldUp
	if s, ok := p.clock.(Sleeper); ok {
		asleep := s.Asleep()
		if asleep-p.asleep > (now-wanted)/2 {
			what = Asleep
		}
		p.asleep = asleep
	}
	p.befell(what, wanted, now)
}
