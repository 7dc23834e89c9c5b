package live

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

const (
	// memoryLimit is where the collector, otherwise off during a take, would start
	// again rather than let the system run out of memory.
	memoryLimit = 1 << 30
	// telling is how often the take looks whether there is a new beat to tell.
	telling = 5 * time.Millisecond
	// leaveWithin is how long a take may need to close its notes and its port once
	// it has ended or was asked to leave.
	leaveWithin = 2 * time.Second
	// orderLeave is the one order that a take obeys, a byte after the roll.
	orderLeave = 'L'
)

// The first words of the lines that a take in a process of its own tells: that it
// could not begin and why, that it begins and when it starts (see beginning), the index
// of the beat that began, and how it went.
const (
	tellFailed = "failed"
	tellBegins = "begins"
	tellBeat   = "beat"
	tellReport = "report"
)

// A Host is what the take's own process asks of the program that it is a part of.
type Host struct {
	Open Open
	// Watch makes the command of a process that ends up in Watch; nil for a sink that
	// falls silent with the process that plays on it. The field may be nil.
	Watch func(sink string) *exec.Cmd
	// Keep keeps a take that is over, by the note that Start was given: how it went, and what
	// broke it off, if anything. It may take its time, and its own fault is its own affair:
	// the parent keeps the take, too, if it is there. The field may be nil.
	Keep func(note string, r Report, fault error)
}

// Serve is the take's own process: it reads a sink and a Roll from in as Start
// writes them, opens the sink, plays to the end whatever becomes of the parent, and
// reports the code to exit with: 0 when it played or was told to leave, 130 when a
// signal ended it, 1 when it could not play or may have left notes sounding. It
// changes the whole process: signals, collector, number of threads. A reader of out
// that is stuck or gone does not hold the take up.
func Serve(in io.Reader, out io.Writer, host Host) int {
	signal.Ignore(deafTo...)
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	orders := bufio.NewReader(in)
	sink, note, roll, err := readOrders(orders)
	if err != nil {
		fmt.Fprintf(out, "%s %v\n", tellFailed, err)
		return 1
	}
	ctx, leave := context.WithCancel(context.Background())
	defer leave()
	s := &server{Host: host, note: note, roll: roll, teller: newTeller(out), code: make(chan int, 1)}
	go func() { s.code <- s.play(ctx, sink) }()
	go obey(orders, leave)
	return s.wait(ctx, signals, leave)
}

// readOrders reads what Start sends ahead of the order to leave.
func readOrders(in *bufio.Reader) (sink, note string, roll *Roll, err error) {
	for _, to := range []*string{&sink, &note} {
		line, err := in.ReadString('\n')
		if err != nil {
			return "", "", nil, fmt.Errorf("take: no sink came from the parent: %w", err)
		}
		if *to, err = strconv.Unquote(strings.TrimSuffix(line, "\n")); err != nil {
			return "", "", nil, fmt.Errorf("take: sink %s: %w: this verb is for the program's own use", strings.TrimSpace(line), err)
		}
	}
	roll, err = Decode(in)
	return sink, note, roll, err
}

// obey waits for the order to leave. A parent that dies gives none.
func obey(in *bufio.Reader, leave func()) {
	for {
		order, err := in.ReadByte()
		if err != nil {
			return
		}
		if order == orderLeave {
			leave()
		}
	}
}

type server struct {
	Host
	note   string
	kept   sync.Once
	roll   *Roll
	teller *teller
	code   chan int
}

// play opens the sink, plays, closes it and tells how it went.
func (s *server) play(ctx context.Context, sink string) int {
	out, err := s.Open(sink)
	if err != nil {
		fmt.Fprintf(s.teller.out, "%s take, sink %q: %v\n", tellFailed, sink, err)
		return 1
	}
	var watching *watcher
	if s.Watch != nil {
		watching = startWatcher(s.Watch(sink), sink, s.roll)
	}
	runtime.GOMAXPROCS(runtime.NumCPU() + 2) // so that waking never waits for a turn
	runtime.GC()
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(memoryLimit)
	rankAll()
	locked := lockMemory()
	clock := SystemClock()
	begins := beginningOn(clock)
	go s.teller.run(begins.line())
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	rep, err := s.roll.Play(ctx, out, Options{Clock: clock, Place: &s.teller.place, Start: begins.boot})
	runtime.ReadMemStats(&after)
	rep.Allocated, rep.Collected = int(after.Mallocs-before.Mallocs), int(after.NumGC-before.NumGC)
	rep.Clock += ", " + locked
	if w, ok := out.(Witness); ok {
		rep.Sink = w.Witness()
	}
	if c, ok := out.(io.Closer); ok {
		if shut := c.Close(); shut != nil { // so its last messages may not be out
			rep.Silent = false
			err = errors.Join(err, shut)
		}
	}
	if rep.Silent {
		watching.dismiss()
	}
	text, _ := json.Marshal(rep) // a Report always marshals
	s.teller.last(fmt.Sprintf("%s %s\n", tellReport, text))
	s.keep(rep, err)
	if err != nil {
		return 1
	}
	return 0
}

// keep has the take kept, once; who calls it while it is being kept waits for that.
func (s *server) keep(r Report, fault error) {
	s.kept.Do(func() {
		if s.Keep != nil && s.note != "" {
			s.Keep(s.note, r, fault)
		}
	})
}

// errBlocked is what broke off a take whose sink blocks for ever.
var errBlocked = errors.New("take: the sink blocks")

// wait reports the exit code once play is done. A sink that blocks for ever is
// given leaveWithin after the end, the order or the signal.
func (s *server) wait(ctx context.Context, signals chan os.Signal, leave func()) int {
	end := time.After(Lead + s.roll.End + openWithin)
	asked, signalled := ctx.Done(), false
	var enough <-chan time.Time
	for {
		select {
		case code := <-s.code:
			if signalled && code == 0 {
				return 130
			}
			return code
		case <-signals:
			signalled = true
			leave()
		case <-asked:
			asked, enough = nil, time.After(leaveWithin)
		case <-end:
			end, enough = nil, time.After(leaveWithin)
		case <-enough:
			s.keep(Report{}, errBlocked)
			return 1
		}
	}
}

// openWithin is how long opening a sink may take: a large sound font is read.
const openWithin = 30 * time.Second

// A teller writes lines about a take under way. Only the newest beat is told; the
// take itself never waits for it.
type teller struct {
	out   io.Writer
	place Place
	final chan string
	done  chan struct{}
}

func newTeller(out io.Writer) *teller {
	return &teller{out: out, final: make(chan string, 1), done: make(chan struct{})}
}

// run tells the first line, and then beats until the last line has been told.
func (t *teller) run(first string) {
	defer close(t.done)
	io.WriteString(t.out, first+"\n")
	tick := time.NewTicker(telling)
	defer tick.Stop()
	line, told := []byte(tellBeat+" "), -1
	for {
		select {
		case <-tick.C:
			if beat := t.place.Beat(); beat != told {
				told = beat
				line = strconv.AppendInt(line[:len(tellBeat)+1], int64(beat), 10)
				line = append(line, '\n')
				t.out.Write(line) // if nobody listens there is nobody to tell so
			}
		case text := <-t.final:
			io.WriteString(t.out, text)
			return
		}
	}
}

// last tells the last line, and gives up if it is not read within a second.
func (t *teller) last(text string) {
	t.final <- text
	select {
	case <-t.done:
	case <-time.After(time.Second):
	}
}
