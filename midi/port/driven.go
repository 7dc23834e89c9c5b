package port

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"gitlab.com/gomidi/midi/v2/drivers"
	"onward/midi/live"
)

// watchEvery is how often it is checked that the port is still there: some systems
// let a program send to a port that is gone without an error.
const watchEvery = 2 * time.Second

// errGone is reported by sends to a port that vanished.
var errGone = errors.New("the port has vanished")

// openDriven opens a port of d behind a Queue, since drivers may block.
func openDriven(d drivers.Driver, name string) (live.Sender, error) {
	p := &driven{driver: d, asked: name, quit: make(chan struct{})}
	if err := p.open(); err != nil {
		return nil, err
	}
	go p.watch()
	return live.NewQueue(p), nil
}

// driven is a port of the system's driver. Send belongs to the Queue's thread; the
// lock keeps the driver, which is not safe for several, to one goroutine apart from
// that.
type driven struct {
	driver drivers.Driver
	asked  string // what the player called the port
	gone   atomic.Bool
	quit   chan struct{}

	lock sync.Mutex
	out  drivers.Out
}

// open finds the port and opens it.
func (p *driven) open() error {
	p.lock.Lock()
	defer p.lock.Unlock()
	out, err := p.find()
	if err != nil {
		return err
	}
	if err := out.Open(); err != nil {
		return fmt.Errorf("port %q: %w", out, err)
	}
	p.out = out
	p.gone.Store(false)
	return nil
}

// find finds the port among those that there are now.
func (p *driven) find() (drivers.Out, error) {
	outs, err := p.driver.Outs()
	if err != nil {
		return nil, fmt.Errorf("MIDI driver %s: %w", p.driver, err)
	}
	i, err := match(infos(outs), p.asked)
	if err != nil {
		return nil, err
	}
	return outs[i], nil
}

// Send may block as long as the driver does.
func (p *driven) Send(msg []byte) error {
	if p.gone.Load() {
		return errGone
	}
	return p.out.Send(msg)
}

// Reopen looks for the port again, by the name that the player gave.
func (p *driven) Reopen() error {
	p.lock.Lock()
	p.out.Close() // it may be gone, and its error with it
	p.lock.Unlock()
	return p.open()
}

// Close closes the port.
func (p *driven) Close() error {
	close(p.quit)
	p.lock.Lock()
	defer p.lock.Unlock()
	return p.out.Close()
}

// watch notes when the port vanishes, until Close.
func (p *driven) watch() {
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			p.lock.Lock()
			there := p.there()
			p.lock.Unlock()
			if !there {
				p.gone.Store(true)
			}
		case <-p.quit:
			return
		}
	}
}

// there reports whether the open port is still listed; if the driver cannot say, it
// is taken to be.
func (p *driven) there() bool {
	outs, err := p.driver.Outs()
	if err != nil {
		return true
	}
	for _, o := range outs {
		if o.String() == p.out.String() {
			return true
		}
	}
	return false
}
