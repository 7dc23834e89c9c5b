package live

import "sync/atomic"

// A Place is where a take has come to. The player writes it and any number of
// screens read it; they cannot hold each other up. The zero Place is before the
// start.
type Place struct{ beat, event atomic.Int64 }

// Beat reports the index in Roll.Beats of the beat that began last, -1 before the
// first.
func (p *Place) Beat() int { return int(p.beat.Load()) - 1 }

// Event reports how many of Roll.Events have come due.
func (p *Place) Event() int { return int(p.event.Load()) }
