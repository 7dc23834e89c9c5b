package room

import (
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"pgregory.net/rapid"

	"onward/cmd/internal/session"
)

// A frozen practice does nothing.
type frozen struct {
	state session.State
	clock func() time.Duration
}

func (f *frozen) State() session.State { return f.state }
func (f *frozen) Clock() time.Duration {
	if f.clock == nil {
		return 0
	}
	return f.clock()
}
func (f *frozen) Do(session.Action) error { return nil }

// Whatever state comes, in whatever order and size, and whatever key: the room goes on, and
// never writes beside the screen.
func TestAnyState(t *testing.T) {
	places := []session.Place{session.Choose, session.Making, session.LookOver, session.CountIn, session.Take, session.Slips,
		session.Meaning, session.Exercise, session.Rest, session.Record, "elsewhere"}
	keys := []string{"p", "r", "b", "s", "w", "q", "?", "0", "1", "7", "h", "j", "k", "l", "d"}
	types := []tea.KeyType{tea.KeyEnter, tea.KeyEsc, tea.KeyUp, tea.KeyDown, tea.KeyLeft, tea.KeyRight, tea.KeyTab, tea.KeySpace, tea.KeyCtrlC}
	texts := []string{"", "March", "行進曲", "a\x1b[2Jb\nc", strings.Repeat("long ", 60), strings.Repeat("w", 300), "e\u0301tude", "👩‍👩‍👧 trio", "\xff"}
	rapid.Check(t, func(t *rapid.T) {
		text := func(name string) string { return rapid.SampledFrom(texts).Draw(t, name) }
		small := rapid.IntRange(-2, 20)
		var now time.Duration
		p := &frozen{clock: func() time.Duration { return now }}
		env := rapid.SampledFrom([]string{"LANG=C", "LANG=C.UTF-8"}).Draw(t, "locale")
		r := newRoom(p, nil, Options{Environ: []string{env}})
		for range rapid.IntRange(1, 6).Draw(t, "states") {
			st := session.State{Version: r.told.Version + 1, Place: rapid.SampledFrom(places).Draw(t, "place"),
				Stopped: small.Draw(t, "stopped"), Step: small.Draw(t, "step"), Problem: text("problem")}
			st.Choice = session.Choice{Kind: rapid.SampledFrom([]session.Kind{"", session.Read, session.Drill, session.Pause}).Draw(t, "kind"),
				Style: text("style"), Rung: small.Draw(t, "rung"), Minutes: small.Draw(t, "minutes"), LookOver: time.Duration(small.Draw(t, "look")) * time.Second}
			if rapid.Bool().Draw(t, "cover") {
				st.Choice.Pressure = []string{"cover"}
			}
			if rapid.Bool().Draw(t, "offer") {
				st.Offer = &session.Offer{Why: []string{text("why")}}
				for range max(small.Draw(t, "named"), 0) {
					n := session.Named{ID: text("id"), Words: text("words")}
					st.Offer.Styles, st.Offer.Rungs = append(st.Offer.Styles, n), append(st.Offer.Rungs, n)
					st.Offer.Instruments, st.Offer.Pressures = append(st.Offer.Instruments, n), append(st.Offer.Pressures, n)
				}
				for range max(small.Draw(t, "plan"), 0) {
					st.Offer.Plan = append(st.Offer.Plan, session.Step{Title: text("title"), Why: text("why"), Done: rapid.Bool().Draw(t, "done")})
				}
			}
			measures := max(small.Draw(t, "measures"), 0)
			if rapid.Bool().Draw(t, "page") {
				st.Page = &session.Page{Title: text("title"), Words: text("words"), File: text("file"), Lines: []string{text("line"), text("line")},
					Hints: []session.Hint{{Word: text("word"), Text: text("hint")}}, Minutes: small.Draw(t, "minutes")}
				for i := range measures {
					st.Page.Measures = append(st.Page.Measures, session.Measure{Number: i + small.Draw(t, "number"), Section: text("section"), First: rapid.Bool().Draw(t, "first")})
				}
			}
			if rapid.Bool().Draw(t, "take") {
				st.Take = &session.Running{Start: time.Duration(small.Draw(t, "start")) * time.Second, Words: []string{text("words")}}
				for i := range max(small.Draw(t, "beats"), 0) {
					st.Take.Beats = append(st.Take.Beats, session.Beat{At: time.Duration(i) * time.Second, Measure: small.Draw(t, "measure"),
						Number: small.Draw(t, "number"), Pass: small.Draw(t, "pass"), Beat: small.Draw(t, "beat"), Of: small.Draw(t, "of")})
				}
			}
			if rapid.Bool().Draw(t, "marks") {
				st.Marks = make([]session.Mark, max(small.Draw(t, "marks"), 0))
			}
			if rapid.Bool().Draw(t, "lesson") {
				st.Lesson = &session.Lesson{Of: small.Draw(t, "of"), Lines: []string{text("line")}, Traps: []string{text("trap")}, Why: []string{text("why")}}
				for range max(small.Draw(t, "figures"), 0) {
					st.Lesson.Figures = append(st.Lesson.Figures, session.Behind{Name: text("name"), Rhythm: text("rhythm"), Measures: make([]int, max(small.Draw(t, "in"), 0)),
						Notes: rapid.SliceOfN(rapid.SampledFrom([]string{"C4", "Bb5", "F##3", "", "x", "C", "G-1", "A10"}), 0, 30).Draw(t, "notes")})
				}
			}
			if rapid.Bool().Draw(t, "ends") {
				st.Ends = session.Maybe{At: time.Duration(small.Draw(t, "ends")) * time.Minute, Set: true}
			}
			if rapid.Bool().Draw(t, "record") {
				st.Record = []string{text("week"), text("week")}
			}
			p.state = st
			r.Update(tea.WindowSizeMsg{Width: rapid.IntRange(0, 130).Draw(t, "width"), Height: rapid.IntRange(0, 45).Draw(t, "height")})
			r.Update(stateMsg{st, true})
			for range rapid.IntRange(0, 6).Draw(t, "keys") {
				now += time.Duration(rapid.IntRange(0, 3000).Draw(t, "ms")) * time.Millisecond
				k := rapid.IntRange(0, len(keys)+len(types)-1).Draw(t, "key")
				if k < len(keys) {
					r.Update(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(keys[k])})
				} else {
					r.Update(tea.KeyMsg{Type: types[k-len(keys)], Runes: []rune(" ")})
				}
				if len(r.deeds) > 0 {
					r.Update(doneMsg{p.state, nil})
				}
				r.Update(tickMsg{r.tick})
				check(t, r)
			}
			check(t, r)
		}
	})
}

// failer is what any kind of test has.
type failer interface {
	Helper()
	Fatalf(string, ...any)
}

// check wants the screen to fit, in columns and rows, and to hold nothing to obey.
func check(t failer, r *room) {
	t.Helper()
	screen := r.draw().text(false)
	lines := strings.Split(screen, "\n")
	if len(lines) > max(r.height, 1) {
		t.Fatalf("%d rows on a screen of %d:\n%s", len(lines), r.height, screen)
	}
	for _, line := range lines {
		if w := width(line); w > max(r.width, 1) {
			t.Fatalf("%d columns on a screen of %d: %q", w, r.width, line)
		}
		if strings.ContainsFunc(line, func(c rune) bool { return c < ' ' || c >= 0x7f && c < 0xa0 || r.g.ascii && c > 0x7e }) {
			t.Fatalf("letters that the terminal obeys or does not know: %q", line)
		}
	}
}
