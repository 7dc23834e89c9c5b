package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"time"

	"onward/midi/live"
)

// floorShift is how much later than the take the floor's deadlines are.
const floorShift = 7 * time.Millisecond

// burn is a program that keeps a core busy until it is killed, an hour at most.
func burn() {
	for end := time.Now().Add(time.Hour); time.Now().Before(end); {
	}
}

// floor is a program that reads a roll and sleeps until the time of each event. It
// prints a live.Report: the clock, and how late it woke.
func floor() {
	roll, err := live.Decode(bufio.NewReader(os.Stdin))
	if err != nil {
		fmt.Fprintln(os.Stderr, "floor:", err)
		os.Exit(1)
	}
	late := make([]time.Duration, len(roll.Events))
	rep := live.Report{Clock: bareSleeps(roll, late), Events: len(late)}
	slices.Sort(late)
	at := func(perMille int) time.Duration { return late[(len(late)-1)*perMille/1000] }
	rep.P50, rep.P99, rep.P999, rep.Max = at(500), at(990), at(999), at(1000)
	json.NewEncoder(os.Stdout).Encode(rep)
	os.Exit(0)
}

// reportTo, in a program's environment, names the file that the report of its take goes to.
const reportTo = "ONWARD_REPORT"

// reporting is the program with its take's report written to a file.
func reporting() {
	e := thisMachine()
	begin := e.begin
	e.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
		t, err := begin(ctx, r, sink, note)
		return reported{t}, err
	}
	os.Exit(run(context.Background(), e, os.Args[1:]))
}

type reported struct{ take }

func (t reported) Wait() (live.Report, error) {
	r, err := t.take.Wait()
	text, _ := json.Marshal(r)
	os.WriteFile(os.Getenv(reportTo), text, 0o666)
	return r, err
}
