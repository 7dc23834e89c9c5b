package session

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"
)

// open is an error that has words for others.
type open struct{ error }

func (open) Public() string { return "for all" }

// Whatever fails is said where one chooses, and to others only in words for them.
func TestWhatFailsIsSaid(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(d *driver)
		want Place
	}{
		{"the offer", func(d *driver) { d.f.refuse = errors.New("a secret"); d.do(Action{Do: DoOffer}) }, Choose},
		{"the record", func(d *driver) { d.f.refuse = errors.New("a secret"); d.do(Action{Do: DoRecord}) }, Choose},
		{"the page", func(d *driver) { d.f.refuse = errors.New("a secret"); d.do(Action{Do: DoStart}) }, Choose},
		{"a take that does not begin", func(d *driver) {
			d.f.breaks = errors.New("a secret")
			d.read()
		}, Choose},
		{"a take that breaks off", func(d *driver) {
			d.f.breaks, d.f.late = errors.New("a secret"), true
			d.read()
			d.after(time.Minute)
		}, Slips},
		{"what is kept", func(d *driver) {
			d.f.full = errors.New("a secret")
			d.read()
			d.after(time.Minute)
			d.do(Action{Do: DoKeep})
		}, Slips},
	} {
		t.Run(c.name, func(t *testing.T) {
			story(t, func(d *driver) {
				c.do(d)
				d.at(c.want)
				if st := d.State(); st.Problem != "a secret" || st.Public != "" {
					t.Errorf("problem %q, for others %q", st.Problem, st.Public)
				}
			})
		})
	}
	story(t, func(d *driver) {
		d.f.refuse = fmt.Errorf("rung 13: %w", open{errors.New("a secret")})
		d.do(Action{Do: DoStart})
		if st := d.State(); st.Problem != "rung 13: a secret" || st.Public != "for all" {
			t.Errorf("problem %q, for others %q", st.Problem, st.Public)
		}
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read}})
		if p := d.State().Problem; p != "" {
			t.Errorf("it is done with, and still there is %q", p)
		}
	})
}

// read starts a read without a look-over; it is in its count-in then.
func (d *driver) read() {
	d.Helper()
	d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read}})
	d.do(Action{Do: DoStart})
	d.after(time.Millisecond)
}

// A page that hangs while it is made holds up neither who goes elsewhere nor who ends it all,
// and is not shown when it comes after all.
func TestAPageThatHangs(t *testing.T) {
	story(t, func(d *driver) {
		d.f.hangs = make(chan struct{})
		hangs := d.f.hangs
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Pause, Minutes: 7}})
		d.do(Action{Do: DoStart})
		d.after(time.Hour)
		d.at(Making)
		d.f.hangs = nil
		d.do(Action{Do: DoOffer})
		d.at(Choose)
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read, LookOver: time.Minute}})
		d.do(Action{Do: DoStart})
		d.at(LookOver)
		close(hangs)
		d.after(time.Second)
		d.at(LookOver)
		if p := d.State().Page; p.Kind != Read {
			t.Errorf("page %+v: that is the one that was given up", p)
		}
		d.after(time.Minute + 10*time.Second)
		d.at(Slips)
		d.do(Action{Do: DoKeep})
		d.at(Meaning)
	})
	story(t, func(d *driver) {
		d.f.hangs = make(chan struct{})
		d.do(Action{Do: DoStart})
		began := time.Now()
		d.do(Action{Do: DoQuit})
		d.Wait()
		if waited := time.Since(began); waited != letGoWithin || !d.State().Over {
			t.Errorf("over %v after %v", d.State().Over, waited)
		}
		close(d.f.hangs)
	})
}

// One page that was given up and comes late does not take the place of the next: what is
// played and kept is what is shown.
func TestAPageThatComesLate(t *testing.T) {
	story(t, func(d *driver) {
		late, next := &fake{started: d.f.started}, &fake{started: d.f.started}
		c := Choice{Kind: Read, LookOver: time.Minute}
		page := func() *Page { return &Page{Kind: Read, Measures: []Measure{{Number: 1}, {Number: 2}}} }
		d.mu.Lock()
		d.work(func(ctx context.Context) { d.present(ctx, c, page(), next) })
		d.mu.Unlock()
		d.after(time.Second)
		d.at(LookOver)
		ctx, stop := context.WithCancel(d.Context())
		stop()
		d.present(ctx, c, page(), late)
		d.do(Action{Do: DoGo})
		d.after(time.Minute)
		d.do(Action{Do: DoKeep})
		if len(late.kept) != 0 || len(next.kept) != 1 {
			t.Errorf("kept %q of the page that is not shown, %q of the one that is", late.kept, next.kept)
		}
	})
}

// Who goes elsewhere while the marks are kept stays there, and hears if they were not.
func TestGoneWhileMarksAreKept(t *testing.T) {
	for _, fails := range []bool{false, true} {
		story(t, func(d *driver) {
			d.do(Action{Do: DoOffer})
			d.do(Action{Do: DoStep, Step: 1})
			d.do(Action{Do: DoStart})
			d.after(time.Minute)
			d.at(Slips)
			d.f.keeps = make(chan struct{})
			if fails {
				d.f.full = errors.New("the disk is full")
			}
			d.do(Action{Do: DoKeep})
			d.at(Making)
			d.do(Action{Do: DoOffer})
			d.at(Choose)
			before := d.State()
			close(d.f.keeps)
			d.after(time.Second)
			d.at(Choose)
			st := d.State()
			if before.Offer.Plan[1].Done {
				t.Error("what was told has changed since")
			}
			if st.Offer.Plan[1].Done == fails || st.Lesson != nil {
				t.Errorf("fails %v: done %v, lesson %v", fails, st.Offer.Plan[1].Done, st.Lesson)
			}
			if (st.Problem == "the disk is full") != fails {
				t.Errorf("fails %v: problem %q", fails, st.Problem)
			}
			d.do(Action{Do: DoOffer})
			if d.State().Offer.Plan[1].Done == fails {
				t.Error("what is done is forgotten when the journal is asked again")
			}
		})
	}
}

// Quitting a take leaves it, and it is over all the same.
func TestQuittingATake(t *testing.T) {
	story(t, func(d *driver) {
		d.read()
		d.after(3 * time.Second)
		d.at(Take)
		d.do(Action{Do: DoQuit})
		d.Wait()
		if st := d.State(); !st.Over || st.Take == nil || !st.Take.Left {
			t.Errorf("over %v, take %+v", st.Over, st.Take)
		}
	})
}

// The player stopped in the measure that sounded as they left, in the first if none did yet.
func TestWhereThePlayerStopped(t *testing.T) {
	for at, want := range map[time.Duration]int{
		time.Second: 0, 1999 * time.Millisecond: 0, 2500 * time.Millisecond: 0, 3999 * time.Millisecond: 0, 4 * time.Second: 1, 5900 * time.Millisecond: 1,
	} {
		story(t, func(d *driver) {
			d.read()
			d.after(at - time.Millisecond)
			d.do(Action{Do: DoLeave})
			if got := d.State().Stopped; got != want {
				t.Errorf("left after %v: stopped at %d, want %d", at, got, want)
			}
			d.do(Action{Do: DoStopped, Measure: 1 - want})
			if got := d.State().Stopped; got != 1-want {
				t.Errorf("stopped at %d, want what the player says", got)
			}
			d.do(Action{Do: DoKept})
			d.do(Action{Do: DoKeep})
			if want := []string{"[{false false} {false false}] -1"}; !slices.Equal(d.f.kept, want) {
				t.Errorf("kept %q, want %q", d.f.kept, want)
			}
		})
	}
}

// Marks are refused outside the page, and one that was told does not change under who reads it.
func TestMarks(t *testing.T) {
	story(t, func(d *driver) {
		d.read()
		d.after(time.Minute)
		before := d.State()
		for _, v := range []Verb{DoMark, DoStopped} {
			for _, m := range []int{-1, 2} {
				if err := d.Do(Action{Do: v, Measure: m}); err == nil {
					t.Errorf("%s: measure %d of 2", v, m)
				}
			}
		}
		d.do(Action{Do: DoMark, Measure: 0, Mark: Mark{Pitch: true}, Version: 1}) // an older state is no matter for a mark
		if before.Marks[0].Slipped() || !d.State().Marks[0].Slipped() {
			t.Errorf("before %v, now %v", before.Marks, d.State().Marks)
		}
		if (Mark{}).Slipped() || !(Mark{Rhythm: true}).Slipped() {
			t.Error("a slip is of pitch or of rhythm")
		}
	})
}

// How long each place lasts is told, by the session's clock.
func TestEnds(t *testing.T) {
	for _, c := range []struct {
		choice Choice
		place  Place
		lasts  time.Duration
	}{
		{Choice{Kind: Read, LookOver: 30 * time.Second}, LookOver, 30 * time.Second},
		{Choice{Kind: Pause, Minutes: 2}, Rest, 2 * time.Minute},
		{Choice{Kind: Drill, Minutes: 3}, Exercise, 3 * time.Minute},
		{Choice{Kind: WarmUp, Minutes: 5}, Exercise, 5 * time.Minute},
	} {
		story(t, func(d *driver) {
			d.after(time.Hour)
			d.do(Action{Do: DoChoose, Choice: &c.choice})
			d.do(Action{Do: DoStart})
			d.at(c.place)
			ends := d.State().Ends
			if want := time.Hour + c.lasts; !ends.Set || ends.At != want || d.Clock() != time.Hour {
				t.Errorf("%s: ends %v, want %v", c.choice.Kind, ends, want)
			}
			d.after(time.Hour)
			if c.place != LookOver {
				d.at(c.place) // it ends when the player says so
			}
		})
	}
	story(t, func(d *driver) {
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read, LookOver: time.Minute, Pressure: []string{"cover", "cold"}}})
		d.do(Action{Do: DoStart})
		d.after(time.Millisecond)
		d.at(CountIn) // cold: no look-over
		if d.State().Ends.Set {
			t.Error("a take has no end that is waited for")
		}
		d.after(1998 * time.Millisecond)
		d.at(CountIn)
		d.after(time.Millisecond)
		d.at(Take)
	})
	for want, m := range map[string]Maybe{"null": {At: 5}, "5": {At: 5, Set: true}} {
		if got, err := json.Marshal(m); err != nil || string(got) != want {
			t.Errorf("%+v: %s, %v", m, got, err)
		}
	}
}

// What is done from the meaning is what it says there.
func TestOnFromTheMeaning(t *testing.T) {
	for _, v := range []Verb{DoStart, DoDrill, DoAgain} {
		story(t, func(d *driver) {
			d.read()
			if st := d.State(); st.May(DoDrill) {
				t.Error("a drill before there is a lesson")
			}
			d.after(time.Minute)
			d.do(Action{Do: DoKeep})
			d.do(Action{Do: v})
			d.after(time.Millisecond)
			last := d.f.made[len(d.f.made)-1]
			switch got := d.State(); v {
			case DoStart:
				if last.Rung != 4 || got.Choice.Rung != 4 || got.Lesson != nil {
					t.Errorf("next: made %+v, lesson %v", last, got.Lesson)
				}
			case DoDrill:
				if last.Kind != Drill || got.Choice.Kind != Drill || got.Place != Exercise {
					t.Errorf("drill: made %+v, at %s", last, got.Place)
				}
			case DoAgain:
				if len(d.f.made) != 1 || got.Place != CountIn || got.Marks != nil || got.Stopped != Kept {
					t.Errorf("again: made %d, at %s, marks %v", len(d.f.made), got.Place, got.Marks)
				}
			}
		})
	}
}

// Each action is refused wherever it has no meaning, and changes nothing there.
func TestActionsOutOfPlace(t *testing.T) {
	places := map[Place]func(d *driver){
		Choose: func(d *driver) {},
		LookOver: func(d *driver) {
			d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read, LookOver: time.Hour}})
			d.do(Action{Do: DoStart})
		},
		CountIn:  func(d *driver) { d.read() },
		Take:     func(d *driver) { d.read(); d.after(3 * time.Second) },
		Slips:    func(d *driver) { d.read(); d.after(time.Minute) },
		Meaning:  func(d *driver) { d.read(); d.after(time.Minute); d.do(Action{Do: DoKeep}) },
		Record:   func(d *driver) { d.do(Action{Do: DoRecord}) },
		Rest:     func(d *driver) { d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Pause}}); d.do(Action{Do: DoStart}) },
		Exercise: func(d *driver) { d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Drill}}); d.do(Action{Do: DoStart}) },
	}
	may := map[Place]string{ // by the table of the actions
		Choose: "choose offer quit record start step", LookOver: "go offer quit", CountIn: "leave quit", Take: "leave quit",
		Slips: "keep kept mark offer quit stopped", Meaning: "again drill offer quit record start", Record: "offer quit",
		Rest: "go offer quit", Exercise: "go offer quit",
	}
	for place, reach := range places {
		story(t, func(d *driver) {
			reach(d)
			d.at(place)
			st := d.State()
			var allowedHere []string
			for v := range allowed {
				if st.May(v) {
					allowedHere = append(allowedHere, string(v))
					continue
				}
				var refused *ActionError
				if err := d.Do(Action{Do: v, Choice: &Choice{}}); !errors.As(err, &refused) || refused.Text != fmt.Sprintf("%s is not for the %s", v, place) {
					t.Errorf("%s at %s: %v", v, place, err)
				}
			}
			slices.Sort(allowedHere)
			if got := fmt.Sprint(allowedHere); got != "["+may[place]+"]" {
				t.Errorf("%s: may %s, want [%s]", place, got, may[place])
			}
			if now := d.State(); now.Version != st.Version {
				t.Errorf("%s: what was refused changed it", place)
			}
		})
	}
}

// Where the stand is, is there for the room to say.
func TestStandIsKnown(t *testing.T) {
	story(t, func(d *driver) {
		d.Stand("http://127.0.0.1:1/")
		if got := d.State().Stand; got != "http://127.0.0.1:1/" {
			t.Errorf("stand %q", got)
		}
		before := d.State().Version
		d.do(Action{Do: DoOffer})
		if d.State().Version <= before {
			t.Error("a change does not raise the version")
		}
		var refused *ActionError
		if err := d.Do(Action{Do: DoRecord, Version: before}); !errors.As(err, &refused) || refused.Text != "the practice has gone on since: look again" {
			t.Errorf("what was seen before: %v", err)
		}
		d.do(Action{Do: DoRecord, Version: d.State().Version})
		d.at(Record)
	})
}

// From an exercise on the practice waits for the journal, with the step done; without a day's
// plan it then proposes what the journal does.
func TestOnFromAnExercise(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoOffer})
		d.do(Action{Do: DoStart})
		d.at(Rest)
		d.f.hangs, d.f.noDay = make(chan struct{}), true
		d.do(Action{Do: DoGo})
		d.at(Making)
		if !d.State().Offer.Plan[0].Done {
			t.Error("the step is not done")
		}
		close(d.f.hangs)
		d.after(time.Second)
		d.at(Choose)
		if st := d.State(); st.Choice.Rung != 9 || len(st.Offer.Plan) != 0 {
			t.Errorf("chosen %+v", st.Choice)
		}
	})
}

// Who goes back in the look-over has no take, then or later.
func TestBackFromTheLookOver(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read, LookOver: time.Minute}})
		d.do(Action{Do: DoStart})
		d.after(10 * time.Second)
		d.do(Action{Do: DoOffer})
		d.after(time.Hour)
		d.at(Choose)
		if st := d.State(); st.Take != nil {
			t.Errorf("take %+v", st.Take)
		}
	})
}

// A day whose steps are all done proposes none of them again.
func TestADayThatIsDone(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoOffer})
		d.do(Action{Do: DoStart})
		d.do(Action{Do: DoGo})
		d.do(Action{Do: DoStart})
		d.after(time.Minute)
		d.do(Action{Do: DoKeep})
		d.do(Action{Do: DoOffer})
		if st := d.State(); st.Step != -1 || st.Choice.Kind != Read || !st.Offer.Plan[1].Done {
			t.Errorf("step %d, %+v", st.Step, st.Choice)
		}
	})
}
