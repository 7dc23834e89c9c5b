package timeline

import (
	"math"
	"testing"
	"time"

	"onward/compose/score"
	"onward/rhythm"
)

// The time under v(x) = sqrt(1 - (1 - w*w) x) is 2/(1+w) of the time in tempo: its
// integral by hand, 2 (1 - w)/(1 - w*w).
func TestEase(t *testing.T) {
	const quarter = rhythm.Offset(rhythm.Quarter)
	for _, percent := range []int{50, 65, 84, 90, 99} {
		line := Timeline{Tempos: []Tempo{{0, 500_000}, {12 * quarter, 250_000}}, End: 16 * quarter}
		line.Ease([]Ritard{{From: 4 * quarter, To: 8 * quarter, Percent: percent}, {From: 10 * quarter, To: 14 * quarter, Percent: percent, Stays: true}})
		if err := line.Check(); err != nil {
			t.Fatal(err)
		}
		w := float64(percent) / 100
		want := time.Duration(math.Round(4 * 500_000 * 2 / (1 + w) * 1000))
		if got := line.Time(8*quarter) - line.Time(4*quarter); (got - want).Abs() > 4*time.Microsecond {
			t.Errorf("to %d %%: the ritard lasts %v, want %v", percent, got, want)
		}
		if got := line.Time(4 * quarter); got != 2*time.Second {
			t.Errorf("to %d %%: it begins at %v", percent, got)
		}
		if got := line.Time(10*quarter) - line.Time(8*quarter); got != time.Second {
			t.Errorf("to %d %%: in tempo again two quarters last %v", percent, got)
		}
		// a new tempo in the midst of a ritard is slowed as the old one
		if got, want := line.Time(15*quarter)-line.Time(14*quarter), time.Duration(250_000*100/percent)*time.Microsecond; got != want {
			t.Errorf("to %d %%: a quarter at the end lasts %v, want %v", percent, got, want)
		}
		for i := 1; i < len(line.Tempos); i++ {
			a, b := line.Tempos[i-1], line.Tempos[i]
			if b.MicrosPerQuarter < a.MicrosPerQuarter && b.At != 8*quarter && b.At != 12*quarter {
				t.Errorf("to %d %%: faster at %d", percent, b.At)
			}
		}
	}
}

func TestEaseNothing(t *testing.T) {
	line := Timeline{Tempos: []Tempo{{0, 500_000}, {100, 400_000}}, End: 20_000}
	line.Ease([]Ritard{{From: 50, To: 50, Percent: 80}})
	if len(line.Tempos) != 2 || line.Tempos[1] != (Tempo{100, 400_000}) {
		t.Errorf("tempos %v", line.Tempos)
	}
}

// One measure of a long slow meter is counted, two of others.
func TestCountInByMeter(t *testing.T) {
	for _, c := range []struct {
		part string
		want int
	}{
		{"4/4 tempo 4=80; C4:1 |]", 1},
		{"4/4 tempo 4=81; C4:1 |]", 2},
		{"2/4 tempo 4=40; C4:2 |]", 2},
		{"3/4 tempo 4=50; C4:2. |]", 2},
		{"5/4 tempo 4=100; C4:2.~ C4:2 |]", 1},
		{"cut tempo 2=60; C4:1 |]", 2},
		{"12/8 tempo 4.=76; C4:1. |]", 1},
	} {
		p := score.MustText(c.part)
		l, err := LayOut(&p, CountIn{Measures: ByMeter})
		if err != nil {
			t.Fatal(err)
		}
		if want := rhythm.Offset(rhythm.Duration(c.want) * p.Measures[0].Meter.Measure()); l.Start != want {
			t.Errorf("%s: the piece starts at %d, want %d", c.part, l.Start, want)
		}
	}
}

// Off-beats lie where the band's after-beats are; a pickup of an eighth is one.
func TestOffBeats(t *testing.T) {
	for _, c := range []struct {
		part string
		want []rhythm.Offset // eighths
	}{
		{"2/4 C4:2 |]", []rhythm.Offset{1, 3}},
		{"cut C4:1 |]", []rhythm.Offset{2, 6}},
		{"6/8 C4:2. |]", []rhythm.Offset{2, 5}},
		{"3/8 C4:4. |]", []rhythm.Offset{2}},
		{"2/4 C4:8 | C4:2 |]", []rhythm.Offset{0, 2, 4}},
	} {
		p := score.MustText(c.part)
		l, err := LayOut(&p, CountIn{})
		if err != nil {
			t.Fatal(err)
		}
		got := l.OffBeats()
		if len(got) != len(c.want) {
			t.Errorf("%s: %v", c.part, got)
			continue
		}
		for i := range got {
			if got[i] != c.want[i]*rhythm.Offset(rhythm.Eighth) {
				t.Errorf("%s: off-beats at %v, want eighths %v", c.part, got, c.want)
			}
		}
	}
}

func TestLayOutAt(t *testing.T) {
	p := score.MustText("4/4 tempo 4=100; C4:1 |]")
	l, err := LayOutAt(&p, CountIn{}, 80)
	if err != nil || l.Measures[0].MicrosPerQuarter != 750_000 {
		t.Errorf("%v, %v", l, err)
	}
	for _, percent := range []int{0, -1, 401} {
		if _, err := LayOutAt(&p, CountIn{}, percent); err == nil {
			t.Errorf("%d %% is played", percent)
		}
	}
}
