package synth

import "time"

// connect opens the device and starts it, and says in words how that went; nil
// means that there is none.
func (s *Speaker) connect() output {
	out, err := s.device()
	if err == nil {
		if err = out.start(); err == nil {
			s.say("sound device: " + out.name())
			return out
		}
		out.stop()
	}
	s.say("no sound device (" + err.Error() + "): keeping time in silence")
	return nil
}

// An asker is whoever asks for frames: a device, or the pump. Only the one whose turn
// it is gets any, so that a lost device that wakes up does no harm.
type asker struct {
	output
	s    *Speaker
	turn int64
}

// device opens the sound device as an asker whose turn begins when it starts.
func (s *Speaker) device() (output, error) {
	a := s.asker()
	out, err := s.open(a.pull, a.lost)
	a.output = out
	return a, err
}

func (s *Speaker) asker() *asker { return &asker{s: s, turn: s.askers.Add(1)} }

// take gives a the turn; its frames are placed on the clock afresh.
func (a *asker) take() {
	a.s.afresh.Store(true)
	a.s.turn.Store(a.turn)
}

func (a *asker) start() error {
	a.take()
	return a.output.start()
}

func (a *asker) pull(out []float32) {
	if a.s.turn.Load() != a.turn {
		clear(out)
		return
	}
	a.s.pull(out)
}

// lost is called by a device that goes away. It never blocks.
func (a *asker) lost() {
	if a.s.turn.Load() != a.turn {
		return
	}
	select {
	case a.s.lost <- struct{}{}:
	default:
	}
}

func (s *Speaker) say(words string) { s.words.Store(&words) }

// keep sees to it that frames are asked for until the speaker closes: by out, or,
// when it is nil or lost, by the pump, while the device is looked for.
func (s *Speaker) keep(out output) {
	for {
		if out == nil {
			if out = s.pump(); out == nil {
				return // closing
			}
		}
		if s.stay() {
			out.stop()
			return
		}
		s.losses.Add(1)
		s.say(out.name() + " went away: keeping time in silence")
		go out.stop() // a device that hangs may take for ever to stop
		out = nil
	}
}

// stay waits while the device plays; it reports true when the speaker closes and
// false when the device is lost or has asked for nothing for too long.
func (s *Speaker) stay() bool {
	tick := time.NewTicker(patience)
	defer tick.Stop()
	before := int64(-1)
	for {
		select {
		case <-s.closing:
			return true
		case <-s.lost:
			return false
		case <-tick.C:
			now := s.pulled.Load()
			if now == before {
				return false
			}
			before = now
		}
	}
}

// pump asks for frames in real time, and drops them, until a device is found, which
// it reports started, or the speaker closes, when it reports nil.
func (s *Speaker) pump() output {
	s.drain()
	self := s.asker()
	self.take()
	looking := s.look()
	frames := make([]float32, 2*liveRate/20)
	start, given := time.Now(), int64(0)
	tick := time.NewTicker(asked)
	defer tick.Stop()
	for {
		select {
		case <-s.closing:
			close(looking)
			return nil
		case out := <-s.found:
			if err := out.start(); err == nil {
				s.say("sound device: " + out.name())
				return out
			}
			out.stop()
			self.take()
			looking = s.look()
		case <-tick.C:
			due := frameOf(time.Since(start), liveRate) - given
			for due > 0 {
				part := frames[:2*min(due, int64(len(frames)/2))]
				self.pull(part)
				given += int64(len(part) / 2)
				due -= int64(len(part) / 2)
			}
		}
	}
}

// drain forgets what the lost device said about its loss.
func (s *Speaker) drain() {
	select {
	case <-s.lost:
	default:
	}
}

// look looks for a device every so often until one is found or the returned channel
// is closed.
func (s *Speaker) look() chan struct{} {
	stop := make(chan struct{})
	s.done.Go(func() {
		tick := time.NewTicker(retry)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			out, err := s.device()
			if err != nil {
				continue
			}
			s.found <- out
			return
		}
	})
	return stop
}
