package live

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"time"
)

// hushWithin is how long Hush tries to open a sink that cannot be opened: the process that
// had it has only just ended.
const hushWithin = time.Second

// Hush opens the sink and ends all that r may have left sounding on it: for use after a
// take of r that ended with ErrHanging. Every key that r strikes is let go, and on every
// channel that it uses pedal, notes and sound are switched off.
func Hush(open Open, sink string, r *Roll) error {
	out, err := open(sink)
	for end := time.Now().Add(hushWithin); err != nil && time.Now().Before(end); out, err = open(sink) {
		time.Sleep(retryFast)
	}
	if err != nil {
		return fmt.Errorf("hush, sink %q: %w", sink, err)
	}
	p := newPlayer(r, out, Options{Clock: SystemClock(), Place: new(Place)})
	for i, e := range r.Events {
		if e.Msg[0]&0xF0 == noteOn {
			p.port.sounds[e.Msg[0]&15][e.Msg[1]] = int32(i) + 1
		}
	}
	err = p.silence(false)
	if c, ok := out.(io.Closer); ok {
		err = errors.Join(err, c.Close())
	}
	return err
}

// keys is a roll that strikes once each key that r strikes, on the channels that r uses.
func (r *Roll) keys() *Roll {
	all := new(Roll)
	var had [16][128]bool
	for _, e := range r.Events {
		ch, key := e.Msg[0]&15, e.Msg[1]
		if e.Msg[0]&0xF0 != noteOn || had[ch][key] {
			continue
		}
		had[ch][key] = true
		n := int32(len(all.Events))
		all.Events = append(all.Events, Event{Msg: [3]byte{noteOn | ch, key, 1}, Mate: n + 1}, Event{Msg: [3]byte{noteOff | ch, key, 64}, Mate: n})
	}
	used := r.channels()
	for ch := range byte(16) {
		if used>>ch&1 == 1 {
			all.Events = append(all.Events, Event{Msg: [3]byte{controller | ch, sustain, 0}, Mate: -1})
		}
	}
	return all
}

// Watch is a process beside the take's own, which starts it (see Host): it waits for the
// end of that process, and if that ended without having silenced its sink, killed perhaps,
// it does so in its place. Its input comes from the take alone; signals do not end it. It
// reports the code to exit with: 0, or 1 when notes may be left sounding.
func Watch(in io.Reader, open Open) int {
	signal.Ignore(append(deafTo, os.Interrupt, syscall.SIGTERM)...)
	orders := bufio.NewReader(in)
	sink, _, r, err := readOrders(orders)
	if err != nil {
		return 1 // the take has not begun
	}
	if _, err := orders.ReadByte(); err == nil {
		return 0
	}
	if Hush(open, sink, r) != nil {
		return 1
	}
	return 0
}

// A watcher is the process of Watch as the take sees it; a nil one is none.
type watcher struct{ orders io.WriteCloser }

// startWatcher has cmd, which must end up in Watch, watch a take of r on the sink. There is
// none where it does not start: the take is played all the same.
func startWatcher(cmd *exec.Cmd, sink string, r *Roll) *watcher {
	if cmd == nil {
		return nil
	}
	ownGroup(cmd)
	orders, err := cmd.StdinPipe()
	if err != nil || cmd.Start() != nil {
		return nil
	}
	out := bufio.NewWriter(orders)
	fmt.Fprintf(out, "%q\n%q\n", sink, "")
	Encode(out, r.keys()) // a few kilobytes, which the pipe holds
	out.Flush()
	return &watcher{orders}
}

// dismiss ends the watch: the sink is silent.
func (w *watcher) dismiss() {
	if w != nil {
		w.orders.Write([]byte{orderLeave})
	}
}
