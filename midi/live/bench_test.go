package live

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"testing"
	"time"
)

// benchMeasures of march at benchTempo, far faster than any band plays, are 20 s.
const (
	benchMeasures = 80
	benchTempo    = 480
)

// BenchmarkTake plays a march in a process of its own, with the machine otherwise
// idle and with every core busy, and reports the lateness of its events in
// microseconds. BenchmarkFloor reports that of a bare clock_nanosleep on an ordinary
// thread at the same times: what the machine does to a program that asks for
// nothing.
func BenchmarkTake(b *testing.B) {
	eachLoad(b, func(b *testing.B) Report {
		r := prepared(b, march(benchMeasures, benchTempo))
		take, err := Start(b.Context(), as("take"), r, "off")
		if err != nil {
			b.Fatal(err)
		}
		rep, err := take.Wait()
		if err != nil {
			b.Fatal(err)
		}
		return rep
	})
}

func BenchmarkFloor(b *testing.B) {
	eachLoad(b, func(b *testing.B) (rep Report) {
		out, err := as("floor").Output()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := fmt.Sscan(string(out), &rep.P50, &rep.P99, &rep.P999, &rep.Max); err != nil {
			b.Fatal(err)
		}
		return rep
	})
}

// BenchmarkPlainTake is the take on the time package's clock in this process.
func BenchmarkPlainTake(b *testing.B) {
	eachLoad(b, func(b *testing.B) Report {
		rep, err := Play(b.Context(), march(benchMeasures, benchTempo), Off{}, Options{Clock: PlainClock()})
		if err != nil {
			b.Fatal(err)
		}
		return rep
	})
}

func eachLoad(b *testing.B, take func(*testing.B) Report) {
	for _, load := range []string{"idle", "busy"} {
		b.Run(load, func(b *testing.B) {
			if load == "busy" {
				defer burnAll(b)()
			}
			for range b.N {
				rep := take(b)
				for name, d := range map[string]time.Duration{"p50": rep.P50, "p99": rep.P99, "p99.9": rep.P999, "max": rep.Max} {
					b.ReportMetric(float64(d.Nanoseconds())/1000, name+"-µs")
				}
				b.Log(rep)
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

// burnAll keeps every core busy by other processes until the returned function is
// called.
func burnAll(b *testing.B) (stop func()) {
	var burners []*exec.Cmd
	for range runtime.NumCPU() {
		cmd := as("burn")
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		burners = append(burners, cmd)
	}
	return func() {
		for _, cmd := range burners {
			cmd.Process.Kill()
			cmd.Wait()
		}
	}
}

// burn keeps a core busy, for two minutes at most.
func burn() {
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); {
	}
}

// floor sleeps until the times of the march's events and prints the lateness.
func floor() {
	r, err := Prepare(march(benchMeasures, benchTempo))
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	var rep Report
	rep.sum(bareSleeps(r))
	w := bufio.NewWriter(os.Stdout)
	fmt.Fprintln(w, int64(rep.P50), int64(rep.P99), int64(rep.P999), int64(rep.Max))
	w.Flush()
	os.Exit(0)
}
