package main

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/midi/live"
)

// practise runs a practice on a stage whose screen is told by the test: each time the
// session comes to a place, act says what the player does there.
func (s *stage) practise(t *testing.T, act func(*session.Session, session.State) *session.Action, args ...string) {
	t.Helper()
	s.env.room = func(ctx context.Context, p *session.Session) error {
		ctx, stop := context.WithTimeout(ctx, 30*time.Second)
		defer stop()
		for st := range p.Watch(ctx) {
			if st.Over {
				return nil
			}
			if a := act(p, st); a != nil {
				if a.Do == session.DoQuit {
					return nil
				}
				if err := p.Do(*a); err != nil {
					t.Errorf("%s at %s: %v", a.Do, st.Place, err)
					return nil
				}
			}
		}
		t.Errorf("stuck at %s: %s", p.State().Place, p.State().Problem)
		return nil
	}
	if code, out, err := s.run(args...); code != 0 {
		t.Fatalf("%v: exit %d\n%s%s", args, code, out, err)
	}
}

// A read in the room, from the flags to what the slips mean; the journal has it all.
func TestPracticeOfOneRead(t *testing.T) {
	s := newStage(t)
	var lesson *session.Lesson
	var page *session.Page
	marked := 0
	s.practise(t, func(_ *session.Session, st session.State) *session.Action {
		switch st.Place {
		case session.Slips:
			if marked++; marked <= 2 { // the second and the third measure
				return &session.Action{Do: session.DoMark, Measure: marked, Mark: session.Mark{Rhythm: true, Pitch: marked == 2}}
			}
			return &session.Action{Do: session.DoKeep}
		case session.Meaning:
			lesson, page = st.Lesson, st.Page
			return &session.Action{Do: session.DoQuit}
		}
		return nil
	}, "read", "--style", "march", "--rung", "4", "--seed", "7")
	if page == nil || lesson == nil {
		t.Fatal("no page, or no lesson")
	}
	if len(page.Hints) < 5 || page.Hints[0].Word != "clef, key" || len(page.Measures) < 8 || !page.Measures[0].First && !page.Measures[1].First {
		t.Errorf("page %+v", page)
	}
	if lesson.Right != lesson.Of-2 || lesson.Drill == nil || len(lesson.Figures) == 0 || lesson.Next.Rung == 0 || len(lesson.Why) == 0 {
		t.Errorf("lesson %+v", lesson)
	}
	for _, b := range lesson.Figures {
		if len(b.Notes) < 2 || len(b.Measures) == 0 || strings.ContainsAny(b.Name, "_|;") {
			t.Errorf("figure %+v", b)
		}
	}
	j, err := journal.Open(t.Context(), "journal.db", s.now)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	takes, err := j.Takes(t.Context(), 5)
	want := []journal.Slip{{Measure: 1, Rhythm: true}, {Measure: 2, Pitch: true, Rhythm: true}}
	if err != nil || len(takes) != 1 || !takes[0].Marked || !slices.Equal(takes[0].Slips, want) {
		t.Errorf("takes %+v, %v", takes, err)
	}
	if all, err := j.Proposals(t.Context()); err != nil || len(all) != 1 || all[0].Rung != lesson.Next.Rung {
		t.Errorf("proposals %+v, %v", all, err)
	}
}

// A whole day by the plan: each step once, with what it makes.
func TestPracticeOfADay(t *testing.T) {
	s := newStage(t)
	if code, _, err := s.run("read", "--plain", "--rung", "3", "--look-over", "0"); code != 0 {
		t.Fatal(err)
	}
	s.clock = s.clock.AddDate(0, 0, 1)
	var kinds []session.Kind
	s.practise(t, func(_ *session.Session, st session.State) *session.Action {
		switch st.Place {
		case session.Choose:
			if st.Offer == nil {
				return nil
			}
			if st.Step < 0 {
				return &session.Action{Do: session.DoQuit}
			}
			kinds = append(kinds, st.Choice.Kind)
			return &session.Action{Do: session.DoStart}
		case session.Exercise, session.Rest:
			if st.Page.Kind != session.Pause && (len(st.Page.Lines) == 0 || len(st.Page.Measures) == 0) {
				t.Errorf("%s: an empty page: %+v", st.Page.Kind, st.Page)
			}
			return &session.Action{Do: session.DoGo}
		case session.Slips:
			return &session.Action{Do: session.DoKeep}
		case session.Meaning:
			return &session.Action{Do: session.DoOffer}
		}
		return nil
	}, "today", "--minutes", "30")
	want := []session.Kind{session.WarmUp, session.Pause, session.Drill, session.Pause, session.Read, session.Pause, session.Read}
	if !slices.Equal(kinds, want) {
		t.Errorf("the day was %v, want %v", kinds, want)
	}
	if len(s.rolls) != 3 { // one before, two in the day
		t.Errorf("%d takes", len(s.rolls))
	}
	// the same day again: all is done
	if _, out, _ := s.run("today", "--minutes", "30", "--plan"); strings.Count(out, " x ") != len(want) {
		t.Errorf("not all is ticked:\n%s", out)
	}
}

// Flags that ask for what cannot be had end the practice before it began, with a word.
func TestPracticeThatCannotBegin(t *testing.T) {
	for _, c := range []struct{ args, word string }{
		{"read --rung 13", "1 to 12"}, {"read --style polka", "polka"}, {"read --instrument kazoo", "kazoo"}, {"today --instrument kazoo", "kazoo"},
		{"read --rung 2 --tempo 120", "80 to 96"}, {"read --again 99", "99"},
	} {
		s := newStage(t)
		s.env.room = func(ctx context.Context, p *session.Session) error {
			select {
			case <-ctx.Done():
			case <-time.After(30 * time.Second):
				t.Errorf("%s: the room stays, at %s", c.args, p.State().Place)
			}
			return ctx.Err()
		}
		if code, _, err := s.run(strings.Fields(c.args)...); code != exitRequest || !strings.Contains(err, c.word) {
			t.Errorf("%s: exit %d, want %d: %s", c.args, code, exitRequest, err)
		}
	}
}

// What slipped oftener is told in numbers.
func TestSlipWords(t *testing.T) {
	pitch, rhythm := session.Mark{Pitch: true}, session.Mark{Rhythm: true}
	for _, c := range []struct {
		marks []session.Mark
		want  string
	}{
		{[]session.Mark{rhythm}, ""},
		{[]session.Mark{rhythm, rhythm, pitch}, "rhythm, 2 of 3 times"},
		{[]session.Mark{pitch, pitch}, "pitch, 2 of 2 times"},
		{[]session.Mark{pitch, rhythm}, "Pitch slipped once, rhythm once"},
	} {
		if got := strings.Join(slipWords(c.marks), ""); !strings.Contains(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%v: %q, want %q", c.marks, got, c.want)
		}
	}
}

// A take that the journal could not have at once is kept with its marks, when it can.
func TestPracticeOfATakeKeptLater(t *testing.T) {
	s := newStage(t)
	inJournal := func(statement string) {
		t.Helper()
		db, err := sql.Open("sqlite", "journal.db")
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	begin := s.begin
	s.env.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
		inJournal("CREATE TRIGGER full BEFORE INSERT ON takes BEGIN SELECT RAISE(ABORT, 'no room'); END")
		return begin(ctx, r, sink, note)
	}
	var problems []string
	marked := false
	s.practise(t, func(_ *session.Session, st session.State) *session.Action {
		switch {
		case st.Place == session.Meaning:
			return &session.Action{Do: session.DoQuit}
		case st.Place != session.Slips:
			return nil
		case !marked:
			marked = true
			problems = append(problems, st.Problem)
			return &session.Action{Do: session.DoMark, Measure: 1, Mark: session.Mark{Pitch: true}}
		case len(problems) == 1 && st.Problem == "": // still no room
			problems = append(problems, "")
			return &session.Action{Do: session.DoKeep}
		case len(problems) == 2 && st.Problem != "":
			problems = append(problems, st.Problem)
			inJournal("DROP TRIGGER full")
			return &session.Action{Do: session.DoKeep}
		}
		return nil
	}, "read", "--rung", "3", "--seed", "5")
	if len(problems) != 3 || !strings.Contains(problems[0], "no room") || !strings.Contains(problems[2], "no room") {
		t.Errorf("told %q", problems)
	}
	j, err := journal.Open(t.Context(), "journal.db", s.now)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if takes, err := j.Takes(t.Context(), 2); err != nil || len(takes) != 1 || !takes[0].Marked || len(takes[0].Slips) != 1 {
		t.Errorf("takes %+v, %v", takes, err)
	}
}

// A screen that is gone does not stop the band: the take is played to its end.
func TestPracticeWithoutItsScreen(t *testing.T) {
	s := newStage(t)
	gone := errors.New("the screen is gone")
	s.env.room = func(ctx context.Context, p *session.Session) error {
		for st := range p.Watch(ctx) {
			if st.Place == session.CountIn || st.Place == session.Take {
				break
			}
		}
		return gone
	}
	held := make(chan struct{})
	begin := s.begin
	s.env.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
		t, err := begin(ctx, r, sink, note)
		return heldTake{t, ctx, held}, err
	}
	time.AfterFunc(200*time.Millisecond, func() { close(held) })
	if code, _, err := s.run("read", "--rung", "3", "--seed", "5"); code != exitFault || !strings.Contains(err, gone.Error()) {
		t.Errorf("exit %d: %s", code, err)
	}
	j, err := journal.Open(t.Context(), "journal.db", s.now)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if takes, err := j.Takes(t.Context(), 1); err != nil || len(takes) != 1 || takes[0].Outcome != journal.KeptGoing {
		t.Errorf("takes %+v, %v", takes, err)
	}
}

// A heldTake lasts until it is let go, or left.
type heldTake struct {
	take
	ctx  context.Context
	held chan struct{}
}

func (t heldTake) Wait() (live.Report, error) {
	select {
	case <-t.held:
	case <-t.ctx.Done():
		return live.Report{Left: true}, nil
	}
	return t.take.Wait()
}
