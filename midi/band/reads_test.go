package band_test

import (
	"fmt"
	"os"
	"sync"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// players are instruments that read high, in the middle and low.
var players = []string{"euphonium-tc", "trumpet", "trombone", "tuba-bb", "flute", "horn", "clarinet", "baritone-sax"}

// forms are what is asked for, in turn.
var forms = map[string][]string{
	"march":   {"march", "snippet", "strain"},
	"lyrical": {"song", "snippet", "strain"},
}

// An asked read, and a name for it in failures.
type asked struct {
	name string
	r    *compose.Read
}

// manyReads are reads of every style and rung, over the players, meters and forms;
// with ONWARD_LONG for every one of the players and several seeds.
var manyReads = sync.OnceValues(func() ([]asked, error) {
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		return nil, err
	}
	w := &compose.World{Catalogue: cat, Ladder: l}
	each := 2
	if os.Getenv("ONWARD_LONG") != "" {
		each = 5 * len(players)
	}
	var all []asked
	for _, name := range styles.Names() {
		sheet, err := styles.Shipped(name)
		if err != nil {
			return nil, err
		}
		for rung := 1; rung <= 12; rung++ {
			for i := range each {
				in, err := theory.InstrumentByID(players[(each*rung+i)%len(players)])
				if err != nil {
					return nil, err
				}
				r, err := compose.Compose(w, ask(sheet, rung, in, i))
				if err != nil {
					return nil, fmt.Errorf("%s rung %d %s %d: %w", name, rung, in.ID, i, err)
				}
				all = append(all, asked{fmt.Sprintf("%s rung %d %s seed %d, %s, %d measures", name, rung, in.ID, r.Seed, r.Meter, len(r.Score.Parts[0].Measures)), r})
			}
		}
	}
	return all, nil
})

// ask varies what is asked: meters that the rung would seldom draw, all forms.
func ask(sheet *styles.Sheet, rung int, in theory.Instrument, i int) compose.Request {
	req := compose.Request{Style: sheet, Rung: rung, Instrument: in, Seed: uint64(100*rung + i), Form: forms[sheet.Name][(rung+i)%3]}
	if m, err := rhythm.ParseMeter(sheet.Meters[(rung+i)%len(sheet.Meters)].Name); err == nil && rung >= 10 {
		req.Meter = &m
	}
	return req
}

func reads(t testing.TB) []asked {
	t.Helper()
	all, err := manyReads()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func arrange(t testing.TB, a asked, opts band.Options) *timeline.Timeline {
	t.Helper()
	line, err := band.Arrange(a.r, opts)
	if err != nil {
		t.Fatalf("%s: %v", a.name, err)
	}
	return line
}

// A heard note is one of a track, from strike to release.
type heard struct {
	at, end  rhythm.Offset
	key      int
	velocity int
}

// track lists the notes of the named track; none if there is no such track.
func track(line *timeline.Timeline, name string) []heard {
	var notes []heard
	open := map[uint8]int{}
	for _, e := range line.Events {
		if line.Tracks[e.Track] != name {
			continue
		}
		switch e.Kind {
		case timeline.NoteOn:
			open[e.A] = len(notes)
			notes = append(notes, heard{at: e.At, key: int(e.A), velocity: int(e.B)})
		case timeline.NoteOff:
			notes[open[e.A]].end = e.At
		}
	}
	return notes
}

// soundAt reports the key of the note of a line that sounds at a point.
func soundAt(notes []heard, at rhythm.Offset) (int, bool) {
	for i := len(notes) - 1; i >= 0; i-- {
		if notes[i].at <= at {
			return notes[i].key, notes[i].end > at
		}
	}
	return 0, false
}
