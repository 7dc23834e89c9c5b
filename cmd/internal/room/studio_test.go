package room

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"onward/cmd/internal/session"
)

// A studio is an invented one: it makes a march of 24 measures with an upbeat and a repeat,
// in two felt beats of half a second, and never plays a note.
type studio struct {
	clock  func() time.Duration
	wait   func(context.Context, time.Duration) error
	plan   bool // there is a plan for the day
	made   []session.Choice
	kept   []string
	refuse error
	slow   time.Duration                      // how long a page takes, and what is kept
	page   func(session.Choice) *session.Page // nil for the march
}

func (s *studio) Offer(context.Context) (*session.Offer, error) {
	if s.refuse != nil {
		return nil, s.refuse
	}
	read := session.Choice{Kind: session.Read, Style: "march", Rung: 5, Instrument: "euphonium", Percent: 100, LookOver: 30 * time.Second}
	song := read
	song.Style, song.Rung = "lyrical", 6
	o := &session.Offer{
		Proposal: read,
		Why:      []string{"Of the last five marches on rung 5 you played 78 % of the measures right; a few more will make it 85 %."},
		Styles:   []session.Named{{ID: "march", Words: "march"}, {ID: "lyrical", Words: "lyrical"}},
		Instruments: []session.Named{{ID: "euphonium", Words: "euphonium, treble clef"}, {ID: "trombone", Words: "trombone"},
			{ID: "cornet", Words: "cornet in B♭"}},
		Pressures: []session.Named{{ID: "panel", Words: "panel: three listen, one try"}, {ID: "cover", Words: "cover: what was played is hidden"},
			{ID: "drop-out", Words: "drop-out: the band rests now and then"}, {ID: "cold", Words: "cold: no look-over"}, {ID: "company", Words: "company: others play along"}},
		ByStyle: map[string]session.Choice{"march": read, "lyrical": song},
	}
	for _, name := range []string{"Six notes", "An octave", "Dots and syncopation", "Sixteenths", "Six-eight and cut time", "Minor",
		"Triplets and chromatic notes", "Grace notes", "Short note first", "Five to the measure", "All around the keys", "Anything"} {
		o.Rungs = append(o.Rungs, session.Named{ID: itoa(len(o.Rungs) + 1), Words: name})
	}
	if s.plan {
		drill := session.Choice{Kind: session.Drill, Instrument: "euphonium", Minutes: 5, Figures: []string{"dominant seventh", "scale in thirds"}}
		o.Plan = []session.Step{
			{Choice: session.Choice{Kind: session.WarmUp, Instrument: "euphonium", Minutes: 10}, Title: "Warm-up in A♭", Why: "Its turn among your keys."},
			{Choice: session.Choice{Kind: session.Pause, Minutes: 5}, Title: "Rest", Why: "As long as you played."},
			{Choice: drill, Title: "Drill: dominant seventh, scale in thirds", Why: "Both slipped on Tuesday."},
			{Choice: read, Title: "Read a march", Why: "What was drilled, in a piece."},
			{Choice: song, Title: "Read a song", Why: "One rung up: the last three came out as written."},
		}
	}
	return o, nil
}

func (s *studio) Make(ctx context.Context, c session.Choice) (*session.Page, session.Performance, error) {
	s.made = append(s.made, c)
	if err := s.wait(ctx, s.slow); err != nil {
		return nil, nil, err
	}
	if s.refuse != nil {
		return nil, nil, s.refuse
	}
	switch {
	case s.page != nil && c.Kind == session.Read:
		return s.page(c), &performance{s, s.page(c)}, nil
	case c.Kind == session.Read:
		p := march()
		return p, &performance{s, p}, nil
	case c.Kind == session.Pause:
		return &session.Page{Kind: c.Kind, Title: "Rest", Minutes: c.Minutes}, nil, nil
	case c.Kind == session.Drill:
		return &session.Page{Kind: c.Kind, Title: "Drill", Words: "slow first: 60 to the quarter", File: "pages/drill.musicxml", Minutes: c.Minutes,
			Lines: []string{"dominant seventh, up and down, in eighths", "scale in thirds, down, two sixteenths and an eighth"}}, nil, nil
	}
	return &session.Page{Kind: c.Kind, Title: "Warm-up in A♭", Words: "A♭ concert, B♭ for you: two flats", Minutes: c.Minutes,
		Lines: []string{"1 Scale to the octave and back", "  quarter and two eighths: staccato", "  quarter = 60, twice", "2 Scale to the ninth, to the tenth", "  in eighths: slurred", "3 Arpeggio, dominant seventh of the next key",
			"4 Intervals, a measure; scale, a measure", "Rest as long as you play."}}, nil, nil
}

func (s *studio) Record(context.Context) ([]string, error) {
	var lines []string
	for week := range 30 {
		lines = append(lines, fmt.Sprintf("week %2d   %2d reads   %2d of 100 measures right   rung %d", week+1, 5+week%4, 60+week, 1+week/6))
	}
	return lines, nil
}

// march is the invented page.
func march() *session.Page {
	p := &session.Page{Kind: session.Read, Title: "March in B♭", Words: "march, rung 5, euphonium", File: "reads/march-r5-12.musicxml",
		Again: "onward read --style march --rung 5 --seed 12",
		Hints: []session.Hint{{Word: "clef, key", Text: "treble clef; C major, no sharps or flats; it sounds in B♭"},
			{Word: "meter", Text: "6/8: 2 beats in a measure, each a dotted quarter"}, {Word: "tempo", Text: "dotted quarter = 120, march tempo"},
			{Word: "form", Text: "introduction 1 to 4; first strain 5 to 12, repeated; trio 13 to 24"},
			{Word: "keys", Text: "measure 13 goes to F major, 1 flat (B)"}, {Word: "dynamics", Text: "starts f, from p (13) to ff (21), 4 hairpins"},
			{Word: "outside", Text: "C♯ in 7; F♯ in 10 and 18"}, {Word: "starts", Text: "G4"}, {Word: "most notes", Text: "measure 15, 7 notes"},
			{Word: "leap", Text: "sixth up, E4 to C5, measure 6"}}}
	add := func(number int, section string, first bool) {
		p.Measures = append(p.Measures, session.Measure{Number: number, Section: section, First: first})
	}
	add(0, "", false)
	for n := 1; n <= 24; n++ {
		section, first := "Trio", n == 13 || n == 1
		if n <= 4 {
			section = "Introduction"
		} else if n <= 12 {
			section, first = "First strain", n == 5
		}
		add(n, section, first)
	}
	return p
}

// A performance plays a page: the chord, two measures of count-in, then all measures, the
// first strain twice.
type performance struct {
	s    *studio
	page *session.Page
}

const beatLasts = 500 * time.Millisecond

func beatsOf(p *session.Page) []session.Beat {
	var beats []session.Beat
	at := time.Duration(0)
	measure := func(index, number, pass, from int) {
		for b := from; b <= 2; b++ {
			beats = append(beats, session.Beat{At: at, Measure: index, Number: number, Pass: pass, Beat: b, Of: 2})
			at += beatLasts
		}
	}
	for n := range 3 {
		measure(-1, n, 1, 1)
	}
	strain := func(pass int) {
		for i, m := range p.Measures {
			if m.Section == "First strain" {
				measure(i, m.Number, pass, 1)
			}
		}
	}
	for i, m := range p.Measures {
		switch {
		case m.Number == 0:
			measure(i, 0, 1, 2)
		case m.Section == "First strain" && m.First:
			strain(1)
			strain(2)
		case m.Section != "First strain":
			measure(i, m.Number, 1, 1)
		}
	}
	return beats
}

func (p *performance) Play(ctx context.Context) (session.Band, error) {
	beats := beatsOf(p.page)
	end := beatLasts
	if len(beats) > 0 {
		end += beats[len(beats)-1].At
	}
	return &band{ctx, p.s, session.Running{Start: p.s.clock(), End: end, Beats: beats}}, nil
}

func (p *performance) Keep(ctx context.Context, marks []session.Mark, stopped int) (*session.Lesson, error) {
	if err := p.s.wait(ctx, p.s.slow); err != nil {
		return nil, err
	}
	if p.s.refuse != nil {
		return nil, p.s.refuse
	}
	l := &session.Lesson{Of: len(marks), Right: len(marks), Next: session.Choice{Kind: session.Read, Style: "march", Rung: 5, Percent: 100},
		Why: []string{"The same rung once more."}, Traps: []string{"measure 18 starts like the tonic triad and leaves it"}}
	var slipped []string
	for i, m := range marks {
		if m.Slipped() {
			l.Right--
			slipped = append(slipped, fmt.Sprint(p.page.Measures[i].Number, " ", markWords(m)))
		}
	}
	if len(slipped) > 0 {
		l.Drill = &session.Choice{Kind: session.Drill, Minutes: 4, Figures: []string{"dominant seventh"}}
		l.Lines = []string{"Pitch slipped where the chord is broken upward; rhythm never did.", "It was so in the last two takes, too."}
		l.Figures = []session.Behind{
			{Name: "dominant seventh, up", Notes: []string{"G3", "B3", "D4", "F4"}, Rhythm: "four sixteenths", Measures: []int{7, 15}, Times: 2},
			{Name: "scale of five notes, down, then the octave", Notes: []string{"D5", "C5", "Bb4", "A4", "G4", "G5"}, Rhythm: "quarter and eighth, twice", Measures: []int{18}, Times: 1}}
	}
	p.s.kept = append(p.s.kept, fmt.Sprintf("%s; stopped %d", strings.Join(slipped, ", "), stopped))
	return l, nil
}

type band struct {
	ctx     context.Context
	s       *studio
	running session.Running
}

func (b *band) Running() session.Running { return b.running }

func (b *band) Wait() ([]string, bool, error) {
	err := b.s.wait(b.ctx, b.running.Start+b.running.End-b.s.clock())
	if errors.Is(err, context.Canceled) {
		return nil, true, nil
	}
	return []string{"The band was on time."}, false, nil
}

// sleep waits as a session does, on whatever clock time runs by.
func sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
