package band_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"onward/compose"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
)

// A pause is a rest of the band in the time of the take: played measures first to last.
type pause struct {
	band.Rest
	first, last int
	at, end     rhythm.Offset
}

// pauses finds the read's rests in the layout.
func pauses(t *testing.T, a asked, l *timeline.Layout) []pause {
	t.Helper()
	rests, err := band.DropOut(a.r)
	if err != nil {
		t.Fatalf("%s: %v", a.name, err)
	}
	all := make([]pause, len(rests))
	for i, r := range rests {
		p := pause{Rest: r, first: -1}
		for k, m := range l.Measures {
			if m.Pass == r.Pass && m.Index == r.First {
				p.first, p.at = k, m.At
			}
			if m.Pass == r.Pass && m.Index == r.Last {
				p.last, p.end = k, m.End()
			}
		}
		if p.first < 0 || p.last < p.first {
			t.Fatalf("%s: the rest %+v is nowhere in the take", a.name, r)
		}
		all[i] = p
	}
	return all
}

func roomy(t *testing.T, a asked) *timeline.Layout {
	t.Helper()
	l, err := timeline.LayOut(&a.r.Score.Parts[0], timeline.FullCountIn())
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The band rests one to three times, for two to four measures from downbeat to downbeat,
// not in the first four measures nor the last two, with four in between, and never for
// all of a section.
func TestWhereTheBandDropsOut(t *testing.T) {
	places, lengths, counts := map[int]bool{}, map[int]int{}, map[int]int{}
	for _, a := range reads(t) {
		l := roomy(t, a)
		n, first := len(l.Measures), 4
		if l.Measures[0].Lead > 0 {
			first++
		}
		all := pauses(t, a, l)
		if most := map[bool]int{n < 16: 1, n >= 16: 2, n >= 40: 3}[true]; len(all) < 1 || len(all) > most {
			t.Errorf("%s: %d rests in %d measures", a.name, len(all), n)
		}
		counts[len(all)]++
		before := -1
		for _, p := range all {
			length := p.last - p.first + 1
			places[p.first], lengths[length] = true, lengths[length]+1
			if length < 2 || length > 4 || p.first < first || p.last > n-3 || before >= 0 && p.first <= before+4 {
				t.Errorf("%s: rests in %d to %d of %d, after %d", a.name, p.first, p.last, n, before)
			}
			if l.Measures[p.first].Lead > 0 || l.Measures[p.last+1].Lead > 0 {
				t.Errorf("%s: the rest in %d to %d is not from downbeat to downbeat", a.name, p.first, p.last)
			}
			for _, s := range a.r.Sections {
				if p.First <= s.First && p.Last >= s.First+s.Measures-1 {
					t.Errorf("%s: rests for the whole %s", a.name, s.Name)
				}
			}
			before = p.last
		}
	}
	if len(places) < 20 || lengths[2] == 0 || lengths[3] == 0 || lengths[4] == 0 || counts[1] == 0 || counts[3] == 0 {
		t.Errorf("rests begin in %d different measures, their lengths are %v, so many to a read %v", len(places), lengths, counts)
	}
}

// In its rests nothing of the band sounds, its clicks neither; all else is as it was: each
// note outside, count-in, guide, programs, tempo.
func TestTheBandDropsOutAndComesBack(t *testing.T) {
	examined, cut, anew := 0, 0, 0
	opts := band.Options{Guide: true, CountIn: timeline.FullCountIn(), Click: band.EveryBeat}
	for _, a := range reads(t) {
		all := pauses(t, a, roomy(t, a))
		plain := arrange(t, a, opts)
		opts := opts
		opts.DropOut = true
		line := arrange(t, a, opts)
		if fmt.Sprint(line.Tempos, line.Beats, line.Tracks, line.End, programs(line)) != fmt.Sprint(plain.Tempos, plain.Beats, plain.Tracks, plain.End, programs(plain)) {
			t.Errorf("%s: tempo, beats, tracks or programs are others", a.name)
		}
		for _, name := range line.Tracks {
			was, is := track(plain, name), track(line, name)
			if name == a.r.Score.Parts[0].Name || name == "Tonic chord" {
				if !slices.Equal(was, is) {
					t.Errorf("%s: %s drops out", a.name, name)
				}
				continue
			}
			for _, n := range is {
				for _, p := range all {
					if n.at < p.end && n.end > p.at {
						t.Errorf("%s: %s sounds %d from %d to %d, in the rest from %d to %d", a.name, name, n.key, n.at, n.end, p.at, p.end)
					}
				}
			}
			for _, n := range was {
				examined++
				want, left := n, true
				for _, p := range all {
					switch {
					case n.end <= p.at || n.at >= p.end:
						continue
					case n.at < p.at:
						want.end, cut = p.at, cut+1
					default:
						left = false
					}
				}
				longer := want
				longer.end++ // it ended a tick early for a strike that is not to come
				if left && !slices.Contains(is, want) && !slices.Contains(is, longer) {
					t.Errorf("%s: %s lacks %+v", a.name, name, want)
				}
			}
			for _, n := range is {
				if !slices.ContainsFunc(was, func(w heard) bool { return w.key == n.key && w.at == n.at && w.velocity == n.velocity }) {
					anew++
					if !slices.ContainsFunc(all, func(p pause) bool { return p.end == n.at }) {
						t.Errorf("%s: %s has %+v, which it had not, and no rest ends there", a.name, name, n)
					}
				}
			}
		}
	}
	if examined < 20_000 || cut < 10 || anew < 10 {
		t.Errorf("only %d notes examined, %d of them cut, %d struck anew", examined, cut, anew)
	}
	t.Logf("%d notes examined, %d cut, %d struck anew", examined, cut, anew)
}

func programs(line *timeline.Timeline) (all []timeline.Event) {
	for _, e := range line.Events {
		if e.Kind == timeline.Program {
			all = append(all, e)
		}
	}
	return all
}

// What is struck anew has the dynamic that holds then, not the one in which it was left.
func TestTheBandComesBackAtItsDynamic(t *testing.T) {
	const part = `4/4 tempo 4=60; key C; p C5:1 | C5:1 | C5:1 | C5:1 | C5:1 | ff C5:1 | C5:1 | C5:1 |]`
	r := scene(t, "lyrical", "C", "I I I I I I I I", part, compose.Section{Name: "Verse", Dynamic: "p"})
	line := arranged(t, r, band.Options{DropOut: true})
	rests, err := band.DropOut(r)
	if err != nil || fmt.Sprint(rests) != "[{4 5 1}]" {
		t.Fatalf("rests %v, %v; only 4 to 5 is far enough from both ends", rests, err)
	}
	back, soft := rhythm.Offset(6*rhythm.Whole), 0
	loud := map[string]int{}
	for _, name := range pitched(r.Style, "") {
		for _, n := range track(line, name) {
			switch {
			case n.at == 0:
				soft = max(soft, n.velocity)
			case n.at == back:
				loud[name] = n.velocity
			}
		}
	}
	if len(loud) < 2 {
		t.Errorf("at %d only %v come back", back, loud)
	}
	for name, v := range loud {
		if v <= soft {
			t.Errorf("%s comes back in fortissimo at %d; the loudest in piano was %d", name, v, soft)
		}
	}
}

func TestNoRoomToDropOut(t *testing.T) {
	for _, c := range []struct{ chords, part string }{
		{"I I I I", "2/4 key Bb; F4:2 | F4:2 | F4:2 | F4:2 |]"},
		{"I I I I I I I", "2/4 key Bb; F4:2 | F4:2 | F4:2 | F4:2 | F4:2 | F4:2 | F4:2 |]"},
	} {
		r := scene(t, "march", "Bb", c.chords, c.part, compose.Section{Name: "Strain"})
		if _, err := band.DropOut(r); !errors.Is(err, band.ErrNoRoom) {
			t.Errorf("%s: %v", c.part, err)
		}
		if _, err := band.Arrange(r, band.Options{DropOut: true}); !errors.Is(err, band.ErrNoRoom) {
			t.Errorf("%s: %v", c.part, err)
		}
	}
}

// The same read drops out in the same places; seeds differ.
func TestTheSeedDecidesWhereTheBandDropsOut(t *testing.T) {
	var a asked
	for _, b := range reads(t) {
		if len(b.r.Score.Parts[0].Measures) >= 32 {
			a = b
		}
	}
	first, err := band.DropOut(a.r)
	if err != nil {
		t.Fatal(err)
	}
	other := map[string]bool{}
	for seed := range uint64(20) {
		again, err := band.DropOut(a.r)
		if err != nil || !slices.Equal(first, again) {
			t.Fatalf("%s: %v, then %v, %v", a.name, first, again, err)
		}
		b := *a.r
		b.Seed = seed
		rests, err := band.DropOut(&b)
		if err != nil {
			t.Fatal(err)
		}
		other[fmt.Sprint(rests)] = true
	}
	if len(other) < 15 {
		t.Errorf("twenty seeds drop out in %d different ways", len(other))
	}
}
