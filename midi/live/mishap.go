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
}

func (m Mishap) String() string {
	return fmt.Sprintf("%s from %v to %v", m.What, m.From.Round(time.Millisecond), m.To.Round(time.Millisecond))
}

const (
	// mostMishaps are told of a take; room for them is made ahead.
	mostMishaps = 64
	// oneMishap is how near to each other two of a kind are one.
	oneMishap = 2 * time.Second
)

// befell notes a mishap; it does not allocate. What is more than mostMishaps is
// counted elsewhere in the report.
func (p *player) befell(what string, from, to time.Duration) {
	all := p.report.Mishaps
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].What == what {
			if from-all[i].To < oneMishap {
				all[i].To = max(all[i].To, to)
				return
			}
			break
		}
	}
	if len(all) < cap(all) {
		p.report.Mishaps = append(all, Mishap{what, from, to})
	}
}

// refusedFrom reports since when a port is lost that was found so at now: since its first
// refusal, if that was just now; it is then no longer a mishap of its own.
func (p *player) refusedFrom(now time.Duration) time.Duration {
	all := p.report.Mishaps
	if len(all) == 0 {
		return now
	}
	last := all[len(all)-1]
	if last.What != PortRefused || last.From != last.To || now-last.To >= oneMishap {
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
