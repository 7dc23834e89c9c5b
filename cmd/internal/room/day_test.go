package room

import (
	"slices"
	"testing"
	"time"

	"onward/cmd/internal/session"
)

// A whole day by one key, but for the slips.
func TestAPracticeDay(t *testing.T) {
	day(t, &studio{plan: true}, func(p *player) {
		p.at(session.Choose)
		p.sees("ENTER starts: warm-up, 10 min", "2  Rest", "step 1 of 5", "ENTER start")
		p.golden("choose-day")
		p.press("enter")
		p.at(session.Exercise)
		p.sees("2 Scale to the ninth, to the tenth", "quarter = 60, twice", "warm-up")
		p.pass(4*time.Minute + 30*time.Second)
		p.golden("warm-up")
		p.pass(6 * time.Minute)
		p.sees("The time is over")
		p.press("enter")
		p.at(session.Choose)
		p.sees("1✓ Warm-up in A♭ (done)", "step 2 of 5", "rest, 5 min")
		p.press("space")
		p.at(session.Rest)
		p.pass(90 * time.Second)
		p.golden("rest")
		p.pass(5 * time.Minute)
		p.sees("ENTER goes on")
		p.press("enter", "enter")
		p.at(session.Exercise)
		p.sees("scale in thirds, down", "step 3 of 5")
		p.golden("drill")
		p.press("enter", "enter")
		p.at(session.LookOver)
		p.golden("look-over")
		p.pass(28 * time.Second)
		p.at(session.LookOver)
		p.pass(3 * time.Second)
		p.at(session.CountIn)
		p.pass(time.Second)
		p.sees("count-in, 2 of 2")
		p.golden("count-in")
		p.pass(2 * time.Second)
		p.at(session.Take)
		p.sees("in 4 measures: First strain, measure 5", "leave: kept as a stop")
		p.pass(5 * time.Second)
		p.golden("take")
		p.pass(time.Minute)
		p.at(session.Slips)
		p.sees("kept going", "The band was on time.")
		p.press("right", "down", "1", "5", "p", "1", "8", "down", "down")
		p.sees("measure 18, Trio: rhythm")
		p.golden("slips")
		p.press("enter")
		p.at(session.Meaning)
		p.sees("22 of 25 measures right", "dominant seventh, up", "drill what slipped, 4 min")
		p.golden("meaning")
		p.press("right")
		p.sees("2 of 2", "scale of five notes")
		p.golden("meaning-second")
		p.press("enter")
		p.at(session.Exercise)
		p.press("enter")
		p.at(session.Choose)
		p.sees("4✓ Read a march (done)", "step 5 of 5")
		p.press("w")
		p.at(session.Record)
		p.golden("record")
		p.press("q")
		p.at(session.Choose)
		p.press("q")
		p.sees("Press it again to end the practice.")
		p.press("q")
		if !p.quit {
			t.Error("the room is still open")
		}
		if want := []string{"1 pitch, 15 pitch, 18 rhythm; stopped -1"}; !slices.Equal(p.studio.kept, want) {
			t.Errorf("kept %q, want %q", p.studio.kept, want)
		}
	})
}
