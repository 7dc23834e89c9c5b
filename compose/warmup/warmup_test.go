package warmup

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// keysByRung are the concert keys as the ladder brings them in, each with its rung.
var keysByRung = []struct {
	rung int
	key  string
}{
	{1, "Bb"}, {2, "F"}, {3, "Eb"}, {6, "G minor"}, {6, "D minor"}, {6, "C minor"}, {7, "Ab"}, {7, "C"}, {8, "G"}, {8, "Db"},
	{8, "F minor"}, {9, "D"}, {9, "Bb minor"}, {10, "Gb"}, {10, "A minor"}, {10, "E minor"}, {11, "A"}, {11, "E"},
	{11, "Eb minor"}, {11, "B minor"}, {12, "B"}, {12, "F# minor"}, {12, "C# minor"},
}

// bracketsByRung are the ladder's ranges.
var bracketsByRung = []theory.Bracket{theory.SixNotes, theory.Beginner, theory.Intermediate, theory.Intermediate, theory.Intermediate,
	theory.Intermediate, theory.Advanced, theory.Advanced, theory.Advanced, theory.Advanced, theory.Advanced, theory.Beyond}

func mustKey(t *testing.T, name string) theory.Key {
	t.Helper()
	k, err := theory.ParseKey(name)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// request asks for ten minutes of an instrument and rung on a player's first day.
func request(t *testing.T, instrument string, rung int) Request {
	t.Helper()
	in, err := theory.InstrumentByID(instrument)
	if err != nil {
		t.Fatal(err)
	}
	req := Request{Instrument: in, Rung: rung, Bracket: bracketsByRung[rung-1], Minutes: 10, Seed: uint64(rung)}
	for _, k := range keysByRung {
		if k.rung <= rung {
			req.Keys = append(req.Keys, mustKey(t, k.key))
		}
	}
	return req
}

func mustMake(t *testing.T, req Request) *Day {
	t.Helper()
	d, err := Make(figure.Default(), req)
	if err != nil {
		t.Fatalf("%s, rung %d, seed %d, turn %d: %v", req.Instrument.ID, req.Rung, req.Seed, req.Turn, err)
	}
	return d
}

// days makes a player's warm-ups of so many days, each kept clear of those before it.
func days(t *testing.T, req Request, n int) []*Day {
	t.Helper()
	var all []*Day
	for turn := range n {
		req.Turn, req.Seed = turn, req.Seed*7+uint64(turn)
		d := mustMake(t, req)
		all = append(all, d)
		for i := range d.Exercises {
			for k := range d.Exercises[i].Lines {
				req.Avoid = append(req.Avoid, d.Exercises[i].Lines[k].Hash())
			}
		}
	}
	return all
}

// players are five instruments: treble and bass clef, three transpositions, the one with
// the least wind and the one with the narrowest range among them.
var players = []string{"euphonium-tc", "trombone", "tuba-bb", "alto-sax", "horn"}

// TestTwoWeeks makes two weeks of every player on every other rung.
func TestTwoWeeks(t *testing.T) {
	for _, in := range players {
		for _, rung := range []int{1, 2, 4, 7, 12} {
			t.Run(fmt.Sprintf("%s-%d", in, rung), func(t *testing.T) {
				req := request(t, in, rung)
				all := days(t, req, 14)
				noLineTwice(t, all)
				legalAndInRange(t, req, all)
				neverOutOfBreath(t, req, all)
			})
		}
	}
}

// Two lines are the same here when the compact text of their measures is: the same written
// notes, rhythm and articulation.
func noLineTwice(t *testing.T, all []*Day) {
	had := map[string]int{}
	lines := 0
	for n, d := range all {
		for _, e := range d.Exercises {
			for _, l := range e.Lines {
				lines++
				text := score.Text(score.Part{Measures: l.Measures})
				if before, again := had[text]; again {
					t.Errorf("day %d has a line of day %d: %s", n, before, text)
				}
				had[text] = n
			}
		}
		if d.Returned > 0 {
			t.Errorf("day %d: %d lines returned", n, d.Returned)
		}
	}
	if lines < 14*3 {
		t.Errorf("only %d lines", lines)
	}
}

func legalAndInRange(t *testing.T, req Request, all []*Day) {
	within := req.Instrument.Ranges[req.Bracket]
	for n, d := range all {
		s := d.Score("Warm-up", "", "")
		played, kinds := d.Played()
		for _, p := range []score.Part{s.Parts[0], played} {
			if err := score.Check(&score.Score{Parts: []score.Part{p}}).Err(); err != nil {
				t.Errorf("day %d: %v", n, err)
			}
			notes := 0
			for _, m := range p.Measures {
				for _, note := range m.Notes {
					if note.Rest {
						continue
					}
					notes++
					if !within.Has(note.Pitch) {
						t.Errorf("day %d, measure %d: %v lies outside %v to %v", n, m.Number, note.Pitch, within.Low, within.High)
					}
				}
			}
			if notes < 40 {
				t.Errorf("day %d: only %d notes", n, notes)
			}
		}
		if len(kinds) != len(played.Measures) {
			t.Errorf("day %d: %d measures and %d kinds", n, len(played.Measures), len(kinds))
		}
	}
}

// The wind table's cautious value at a soft dynamic, as the page is marked, is never passed
// between two rests, at the tempo of the place.
func neverOutOfBreath(t *testing.T, req Request, all []*Day) {
	longest, stretches := 0.0, 0
	for n, d := range all {
		part, _ := d.Played()
		var meter rhythm.Meter
		tempo, since := 0, 0.0
		for _, m := range part.Measures {
			if m.Meter != nil {
				meter = *m.Meter
			}
			if m.Tempo != nil {
				tempo = m.Tempo.BPM
			}
			for _, note := range m.Notes {
				if note.Rest {
					since = 0
					continue
				}
				if since == 0 {
					stretches++
				}
				since += float64(note.Value.Duration()) / float64(meter.Beat()) * 60 / float64(tempo)
				longest = max(longest, since)
				if wind := req.Instrument.Breath[0]; since > wind+0.001 {
					t.Errorf("day %d, measure %d: %.2f s without a breath, the wind lasts %.2f s", n, m.Number, since, wind)
				}
			}
		}
	}
	if stretches < 100 || longest < 1 {
		t.Errorf("%d stretches, the longest %.1f s", stretches, longest)
	}
}

func TestMinutesAreFilledAndRestIsAsLongAsPlaying(t *testing.T) {
	for _, minutes := range []int{5, 8, 10, 20, 30} {
		for _, rung := range []int{1, 4, 8, 12} {
			req := request(t, "cornet", rung)
			req.Minutes = minutes
			for n, d := range days(t, req, 4) {
				part, kinds := d.Played()
				sums := map[PlayedKind]time.Duration{}
				for i := range part.Measures {
					_, meter, _ := part.At(i)
					sums[kinds[i].Kind] += time.Duration(meter.Count()) * time.Minute / time.Duration(tempoAt(&part, i))
				}
				total := sums[Playing] + sums[Resting] + sums[Counted]
				asked := time.Duration(minutes) * time.Minute
				if total > asked || total < asked*4/5 {
					t.Errorf("rung %d, %d minutes, day %d: lasts %v", rung, minutes, n, total)
				}
				if off := (d.Total() - total).Abs(); off > time.Second {
					t.Errorf("rung %d, %d minutes, day %d: says %v, is %v", rung, minutes, n, d.Total(), total)
				}
				// The last time through needs no rest after it.
				last := d.Exercises[len(d.Exercises)-1].Through()
				if rest := sums[Resting] + sums[Counted] + last; rest < sums[Playing]*95/100 {
					t.Errorf("rung %d, %d minutes, day %d: plays %v, rests %v", rung, minutes, n, sums[Playing], rest)
				}
			}
		}
	}
}

// tempoAt reports the tempo in force in a measure.
func tempoAt(p *score.Part, i int) int {
	for ; p.Measures[i].Tempo == nil; i-- {
	}
	return p.Measures[i].Tempo.BPM
}

func TestEveryFamilyComesWithinTwoWeeks(t *testing.T) {
	for _, c := range []struct {
		rung, minutes int
		want          []Family
	}{
		{1, 10, []Family{Octave, Extended, Growing, ArpeggioOctave, Tonguing, Figure}},
		{3, 10, []Family{Octave, Extended, Growing, ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing, Thirds, Intervals, Tonguing, Figure}},
		{8, 10, []Family{Octave, Extended, Growing, ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing, Thirds, Intervals, Neighbours, Tonguing, Cycle, Figure}},
		{8, 5, []Family{Octave, Extended, Growing, ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing, Thirds, Intervals, Neighbours, Tonguing, Cycle, Figure}},
		{12, 20, []Family{Octave, Extended, Growing, ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing, Thirds, Intervals, Neighbours, Tonguing, Cycle, Figure}},
	} {
		for _, in := range []string{players[c.rung%len(players)], "horn"} { // the horn has the narrowest range
			req := request(t, in, c.rung)
			req.Minutes = c.minutes
			had := map[Family]int{}
			for _, d := range days(t, req, 14) {
				for _, e := range d.Exercises {
					had[e.Family]++
				}
			}
			for _, f := range c.want {
				if had[f] == 0 {
					t.Errorf("%s, rung %d, %d minutes: no %s in two weeks: %v", in, c.rung, c.minutes, f, had)
				}
			}
		}
	}
}

func TestKeysComeInTurn(t *testing.T) {
	req := request(t, "trumpet", 3) // every key of the rung has its octave in the range
	var got []string
	for _, d := range days(t, req, 7) {
		got = append(got, d.Concert.String())
	}
	if want := []string{"Bb major", "F major", "Eb major", "Bb major", "F major", "Eb major", "Bb major"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	eb := mustKey(t, "Eb")
	req.Key = &eb
	if d := mustMake(t, req); d.Concert != eb || d.Written != mustKey(t, "F") {
		t.Errorf("asked for E-flat: got %v, written %v", d.Concert, d.Written)
	}
}

func TestSameRequestSameWarmup(t *testing.T) {
	req := request(t, "euphonium-tc", 8)
	one, two := mustMake(t, req), mustMake(t, req)
	if a, b := score.Text(one.Score("", "", "").Parts[0]), score.Text(two.Score("", "", "").Parts[0]); a != b {
		t.Errorf("got %s\nand %s", a, b)
	}
	req.Seed++
	if a, b := score.Text(one.Score("", "", "").Parts[0]), score.Text(mustMake(t, req).Score("", "", "").Parts[0]); a == b {
		t.Error("another seed makes the same warm-up")
	}
}

func TestWeakFiguresComeFirst(t *testing.T) {
	req := request(t, "euphonium-tc", 5)
	req.Figures = []figure.Figure{
		{Shape: "long note", Cell: "quarter"}, // too short to go from step to step
		{Shape: "four up", Cell: "four sixteenths"}, {Shape: "triad up", Cell: "eighth triplet"}, {Shape: "four down", Cell: "four eighths"},
	}
	weakest := 0
	for _, d := range days(t, req, 6) {
		for _, e := range d.Exercises {
			switch {
			case e.Family != Figure:
			case *e.Figure == req.Figures[1]:
				weakest++
			default:
				t.Errorf("drilled %v ahead of %v", *e.Figure, req.Figures[1])
			}
		}
	}
	if weakest != 6 {
		t.Errorf("the weakest figure was drilled on %d of 6 days", weakest)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Request)
		want   string
	}{
		{"too short", func(r *Request) { r.Minutes = 4 }, "a warm-up of 4 minutes: ask for 5 to 30"},
		{"too long", func(r *Request) { r.Minutes = 31 }, "a warm-up of 31 minutes: ask for 5 to 30"},
		{"no such rung", func(r *Request) { r.Rung = 13 }, "rung 13: the ladder has rungs 1 to 12"},
		{"no room for the key", func(r *Request) { k := mustKey(t, "F"); r.Key = &k },
			"concert F major on rung 1: C4 to A4, the notes of the Euphonium T.C. there, have no room for a scale on G: choose another key, or a higher rung"},
	} {
		req := request(t, "euphonium-tc", 1)
		c.change(&req)
		_, err := Make(figure.Default(), req)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
		if _, ok := err.(*RequestError); !ok {
			t.Errorf("%s: %T is no *RequestError", c.name, err)
		}
	}
}
