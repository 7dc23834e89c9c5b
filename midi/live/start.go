package live

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A Take is a take under way in a process of its own.
type Take struct {
	cmd    *exec.Cmd
	orders io.WriteCloser
	beats  chan int
	begins chan error
	began  beginning
	leave  sync.Once
	sent   chan struct{} // the roll is on its way
	done   chan struct{}
	faults bytes.Buffer // what the process wrote on its standard error
	report Report
	err    error
}

// Start has cmd, which must end up in Serve, play r on the sink, and returns when
// the take begins; note is for the Host there, which keeps the take by it. The error says why it cannot: cmd does not run, or the sink does
// not open. When ctx is done the take is told to leave, as by Leave; so a Ctrl-C that
// the caller catches ends the take in silence. The process is in a group of its own
// and hears no Ctrl-C itself. If the caller dies the band plays on.
//
// cmd's standard streams and SysProcAttr are Start's, and cmd must not be bound to
// a context, which would kill it with its notes sounding.
func Start(ctx context.Context, cmd *exec.Cmd, r *Roll, sink, note string) (*Take, error) {
	t := &Take{cmd: cmd, beats: make(chan int, 1), begins: make(chan error, 1),
		sent: make(chan struct{}), done: make(chan struct{})}
	ownGroup(cmd)
	cmd.Stderr = &t.faults
	orders, err := cmd.StdinPipe()
	if err != nil {
		return nil, fmt.Errorf("take: %w", err)
	}
	lines, err := cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("take: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("take: starting the player: %w", err)
	}
	t.orders = orders
	go t.listen(lines)
	go t.send(r, sink, note)
	stop := context.AfterFunc(ctx, t.Leave)
	go func() { <-t.done; stop() }()
	return t.begun()
}

// send gives the process its sink, note and roll. A process that ends before it has read
// them says why itself.
func (t *Take) send(r *Roll, sink, note string) {
	defer close(t.sent)
	w := bufio.NewWriter(t.orders)
	fmt.Fprintf(w, "%q\n%q\n", sink, note)
	if Encode(w, r) == nil {
		w.Flush()
	}
}

// begun waits until the take begins or fails to.
func (t *Take) begun() (*Take, error) {
	select {
	case err := <-t.begins:
		if err == nil {
			return t, nil
		}
		t.Leave()
		<-t.done
		return nil, err
	case <-time.After(openWithin):
		t.Leave()
		return nil, fmt.Errorf("take: the sink did not open within %v", openWithin)
	}
}

// listen follows the process's lines to their end and then its exit.
func (t *Take) listen(lines io.Reader) {
	defer close(t.done)
	defer close(t.beats)
	begun, told := false, false
	in := bufio.NewScanner(lines)
	for in.Scan() {
		word, rest, _ := strings.Cut(in.Text(), " ")
		switch word {
		case tellBegins:
			if !begun {
				begun = true
				var err error
				t.began, err = parseBeginning(rest)
				t.begins <- err
			}
		case tellFailed:
			t.err = errors.New(rest)
		case tellBeat:
			if n, err := strconv.Atoi(rest); err == nil {
				t.latest(n)
			}
		case tellReport:
			told = json.Unmarshal([]byte(rest), &t.report) == nil
		}
	}
	t.ended(t.cmd.Wait(), told)
	if !begun {
		t.begins <- t.err
	}
}

// ended sets the error for a process that ended with exit.
func (t *Take) ended(exit error, told bool) {
	switch {
	case t.err != nil:
	case told && t.report.Silent:
	case told:
		t.err = fmt.Errorf("take: %d sends failed, the last note-offs too: %w", t.report.Errors, ErrHanging)
	default:
		fault, _, _ := strings.Cut(t.faults.String(), "\n")
		t.err = fmt.Errorf("take: the player ended without a report (%v) %s: %w", exit, fault, ErrHanging)
	}
}

// latest offers n to the reader of Beats in place of what it has not read.
func (t *Take) latest(n int) {
	select {
	case <-t.beats:
	default:
	}
	t.beats <- n // there is room: listen alone sends
}

// Beats gives the index in Roll.Beats of each beat as it begins. A reader that is
// slow gets the newest only. The channel closes when the take has ended.
func (t *Take) Beats() <-chan int { return t.beats }

// Started reports when the take starts, the time of its first deadline, on the clock that
// all programs of the machine have in common: SystemClock's Now then. A page that goes by
// the roll from there is in step with the band. ok is false on systems without such a
// clock; there StartedAt has to do. Both hold from Start's return on.
func (t *Take) Started() (boot time.Duration, ok bool) { return t.began.boot, t.began.common }

// StartedAt reports the same by the time of day, as it was set when the take began.
func (t *Take) StartedAt() time.Time { return t.began.wall }

// Leave tells the take to end now, in silence, and returns at once; Wait tells when
// it has. A process that does not obey is killed.
func (t *Take) Leave() {
	t.leave.Do(func() {
		go func() {
			<-t.sent
			t.orders.Write([]byte{orderLeave})
		}()
		go func() {
			select {
			case <-t.done:
			case <-time.After(2 * leaveWithin):
				t.cmd.Process.Kill()
			}
		}()
	})
}

// Wait returns when the take has ended: how it went, and an error if it broke off.
// An error that wraps ErrHanging asks for Hush.
func (t *Take) Wait() (Report, error) {
	<-t.done
	return t.report, t.err
}
