package session

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// A fake studio plays two measures of two beats after two beats of count-in, a second each.
type fake struct {
	started time.Time
	kept    []string
	refuse  error // of making, and of what the journal is asked
	made    []Choice
	hangs   chan struct{} // making and offering wait for it, whatever ctx says; nil for no wait
	noDay   bool          // no day is planned
	breaks  error         // a take does not begin, or breaks off
	late    bool          // it breaks off after it began
	keeps   chan struct{} // keeping waits for it
	full    error         // the marks cannot be kept
}

func (f *fake) clock() time.Duration { return time.Since(f.started) }

func (f *fake) Offer(context.Context) (*Offer, error) {
	if f.hangs != nil {
		<-f.hangs
	}
	if f.refuse != nil {
		return nil, f.refuse
	}
	if f.noDay {
		return &Offer{Proposal: Choice{Kind: Read, Rung: 9}}, nil
	}
	c := Choice{Kind: Read, Style: "march", Rung: 3, Percent: 100, LookOver: 30 * time.Second}
	return &Offer{Proposal: c, Plan: []Step{{Choice: Choice{Kind: Pause, Minutes: 2}, Title: "rest"}, {Choice: c}}}, nil
}

func (f *fake) Make(_ context.Context, c Choice) (*Page, Performance, error) {
	f.made = append(f.made, c)
	if f.hangs != nil {
		<-f.hangs
	}
	if f.refuse != nil {
		return nil, nil, f.refuse
	}
	if c.Kind != Read {
		return &Page{Kind: c.Kind, Minutes: c.Minutes}, nil, nil
	}
	return &Page{Kind: Read, Measures: []Measure{{Number: 1}, {Number: 2}}}, f, nil
}

func (f *fake) Record(context.Context) ([]string, error) { return []string{"a week"}, f.refuse }

func (f *fake) Play(ctx context.Context) (Band, error) {
	if f.breaks != nil && !f.late {
		return nil, f.breaks
	}
	r := Running{Start: f.clock(), End: 6 * time.Second}
	for i := range 6 {
		r.Beats = append(r.Beats, Beat{At: time.Duration(i) * time.Second, Measure: i/2 - 1, Number: i / 2, Beat: i%2 + 1, Of: 2})
	}
	return &fakeBand{ctx, r, f.breaks}, nil
}

func (f *fake) Keep(_ context.Context, marks []Mark, stopped int) (*Lesson, error) {
	f.kept = append(f.kept, fmt.Sprint(marks, stopped))
	if f.keeps != nil {
		<-f.keeps
	}
	if f.full != nil {
		return nil, f.full
	}
	return &Lesson{Of: len(marks), Drill: &Choice{Kind: Drill, Minutes: 1}, Next: Choice{Kind: Read, Rung: 4}}, nil
}

type fakeBand struct {
	ctx     context.Context
	running Running
	breaks  error
}

func (b *fakeBand) Running() Running { return b.running }

func (b *fakeBand) Wait() ([]string, bool, error) {
	select {
	case <-b.ctx.Done():
		return nil, true, nil
	case <-time.After(b.running.End):
		return []string{"on time"}, false, b.breaks
	}
}

// A driver lets a test read as a story.
type driver struct {
	*testing.T
	*Session
	f *fake
}

func story(t *testing.T, tell func(d *driver)) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{started: time.Now()}
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		s := New(ctx, f, f.clock, func(ctx context.Context, d time.Duration) error {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(d):
				return nil
			}
		})
		d := &driver{t, s, f}
		tell(d)
		stop()
		s.Wait()
	})
}

func (d *driver) do(a Action) {
	d.Helper()
	if err := d.Do(a); err != nil {
		d.Fatalf("%s: %v", a.Do, err)
	}
	synctest.Wait()
}

func (d *driver) at(want Place) {
	d.Helper()
	if got := d.State().Place; got != want {
		d.Fatalf("at %s, want %s; problem %q", got, want, d.State().Problem)
	}
}

func (d *driver) after(t time.Duration) {
	time.Sleep(t)
	synctest.Wait()
}

func TestAReadFromChoiceToMeaning(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoOffer})
		d.at(Choose)
		if st := d.State(); st.Step != 0 || st.Choice.Kind != Pause {
			t.Fatalf("step %d, %+v; want the plan's first", st.Step, st.Choice)
		}
		d.do(Action{Do: DoStart})
		d.at(Rest)
		d.do(Action{Do: DoGo})
		d.at(Choose)
		if st := d.State(); st.Step != 1 || !st.Offer.Plan[0].Done || st.Choice.Rung != 3 {
			t.Fatalf("step %d done %v: want the second, the first done", st.Step, st.Offer.Plan[0].Done)
		}
		d.do(Action{Do: DoStart})
		d.at(LookOver)
		d.after(29 * time.Second)
		d.at(LookOver)
		d.after(time.Second + time.Millisecond)
		d.at(CountIn)
		d.after(2 * time.Second)
		d.at(Take)
		for _, v := range []Verb{DoStart, DoOffer, DoMark, DoGo, DoKeep, DoRecord} {
			if err := d.Do(Action{Do: v}); err == nil {
				t.Errorf("%s was taken in the take", v)
			}
		}
		d.after(4 * time.Second)
		d.at(Slips)
		if st := d.State(); len(st.Marks) != 2 || st.Stopped != Kept || st.Take.Left || !slices.Equal(st.Take.Words, []string{"on time"}) {
			t.Errorf("after the take: %+v", st)
		}
		d.do(Action{Do: DoMark, Measure: 1, Mark: Mark{Rhythm: true}})
		if err := d.Do(Action{Do: DoMark, Measure: 2}); err == nil {
			t.Error("measure 3 of 2 was marked")
		}
		d.do(Action{Do: DoKeep})
		d.at(Meaning)
		if want := []string{"[{false false} {false true}] -1"}; !slices.Equal(d.f.kept, want) {
			t.Errorf("kept %q, want %q", d.f.kept, want)
		}
		d.do(Action{Do: DoDrill})
		d.at(Exercise)
		d.do(Action{Do: DoGo})
		d.at(Choose)
		d.do(Action{Do: DoRecord})
		d.at(Record)
		d.do(Action{Do: DoQuit})
		if !d.State().Over {
			t.Error("not over")
		}
	})
}

// Leaving is a stop where the take was, and the take is kept all the same.
func TestLeaving(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read}})
		d.do(Action{Do: DoStart})
		d.after(time.Millisecond)
		d.at(CountIn) // no look-over was asked for
		d.after(4500 * time.Millisecond)
		d.at(Take)
		d.do(Action{Do: DoLeave})
		d.at(Slips)
		if st := d.State(); st.Stopped != 1 || !st.Take.Left {
			t.Errorf("stopped at %d, left %v; want measure index 1", st.Stopped, st.Take.Left)
		}
		d.do(Action{Do: DoKeep})
		d.do(Action{Do: DoAgain})
		d.after(time.Millisecond)
		d.at(CountIn)
		if len(d.f.made) != 1 {
			t.Error("the page was made anew")
		}
	})
}

// A panel hears a page once.
func TestPanelHasNoSecondTry(t *testing.T) {
	story(t, func(d *driver) {
		d.do(Action{Do: DoChoose, Choice: &Choice{Kind: Read, Pressure: []string{"panel"}}})
		d.do(Action{Do: DoStart})
		d.after(10 * time.Second)
		d.do(Action{Do: DoKeep})
		if err := d.Do(Action{Do: DoAgain}); err == nil {
			t.Error("a second try")
		}
		d.do(Action{Do: DoStart}) // another page is another matter
	})
}

// What cannot be made is said where one chooses; nothing else is lost.
func TestRefusals(t *testing.T) {
	story(t, func(d *driver) {
		d.f.refuse = errors.New("no such style")
		d.do(Action{Do: DoStart})
		d.at(Choose)
		if p := d.State().Problem; p != "no such style" {
			t.Errorf("problem %q", p)
		}
		for _, a := range []Action{{Do: "dance"}, {Do: DoChoose}, {Do: DoGo}, {Do: DoKept, Version: d.State().Version + 1}} {
			var refused *ActionError
			if err := d.Do(a); !errors.As(err, &refused) {
				t.Errorf("%+v: %v, want an ActionError", a, err)
			}
		}
	})
}

// A watcher that does not look holds nothing up, and sees the latest when it looks.
func TestSlowWatcher(t *testing.T) {
	story(t, func(d *driver) {
		ctx, stop := context.WithCancel(d.Context())
		c := d.Watch(ctx)
		for i := range 50 {
			d.do(Action{Do: DoChoose, Choice: &Choice{Rung: i}})
		}
		if st := <-c; st.Choice.Rung != 49 {
			t.Errorf("rung %d, want the latest, 49", st.Choice.Rung)
		}
		stop()
		synctest.Wait()
		if _, open := <-c; open {
			t.Error("still watched")
		}
		d.do(Action{Do: DoChoose, Choice: &Choice{}})
	})
}

// The steps of a day may be taken in any order, or none of them.
func TestAnyStepOfTheDay(t *testing.T) {
	story(t, func(d *driver) {
		if err := d.Do(Action{Do: DoStep}); err == nil {
			t.Error("a step before there is a plan")
		}
		d.do(Action{Do: DoOffer})
		for _, step := range []int{-2, 2} {
			if err := d.Do(Action{Do: DoStep, Step: step}); err == nil {
				t.Errorf("step %d of 2 was taken", step)
			}
		}
		d.do(Action{Do: DoStep, Step: -1})
		if st := d.State(); st.Step != -1 || st.Choice.Kind != Read {
			t.Errorf("step %d, %+v; want none, and the proposal", st.Step, st.Choice)
		}
		d.do(Action{Do: DoStep, Step: 1})
		d.do(Action{Do: DoStart})
		d.after(time.Minute)
		d.do(Action{Do: DoKeep})
		if p := d.State().Offer.Plan; p[0].Done || !p[1].Done {
			t.Errorf("done: %v, %v; want the second alone", p[0].Done, p[1].Done)
		}
	})
}
