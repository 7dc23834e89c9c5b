package stand

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"onward/cmd/internal/session"
	"onward/compose/musicxml"
	"onward/midi/timeline"
)

// A rehearsal is a studio whose reads are files of testdata, and whose takes nobody plays.
type rehearsal struct {
	clock    func() time.Duration
	file     string // of the next read, without the instrument
	lookOver time.Duration
	pressure []string
	lingers  time.Duration            // the band, after the last measure
	twist    func(text []byte) []byte // of the page's MusicXML, nil for none
	title    string                   // "" for a usual one
	ready    func(s *Stand)           // before it serves

	mu   sync.Mutex
	kept []string // what was kept: marks and where the player stopped
}

func (r *rehearsal) choice() session.Choice {
	return session.Choice{Kind: session.Read, Style: "march", Rung: 8, Instrument: "euphonium-tc", Percent: 100, LookOver: r.lookOver, Pressure: r.pressure}
}

// Offer is session.Studio's.
func (r *rehearsal) Offer(context.Context) (*session.Offer, error) {
	named := func(ids ...string) (list []session.Named) {
		for _, id := range ids {
			list = append(list, session.Named{ID: id, Words: id})
		}
		return list
	}
	c := r.choice()
	lyrical := c
	lyrical.Style = "lyrical"
	return &session.Offer{
		Proposal: c, Why: []string{"Rung 8 goes well: 46 of the last 48 measures came out as written."},
		Styles: named("march", "lyrical"), Rungs: named("Six notes", "An octave", "Dots and syncopation", "Sixteenths", "Six-eight and cut time", "Minor", "Triplets and chromatic notes", "Grace notes"),
		Instruments: named("euphonium-tc", "trombone"),
		Pressures:   named("panel", "cover", "drop-out", "cold", "company"),
		ByStyle:     map[string]session.Choice{"march": c, "lyrical": lyrical},
	}, nil
}

// Make is session.Studio's.
func (r *rehearsal) Make(_ context.Context, c session.Choice) (*session.Page, session.Performance, error) {
	if c.Kind != session.Read {
		return &session.Page{Kind: c.Kind, Title: "Drill", Lines: []string{"Five notes up, five down, on G, A and B."}, Minutes: 3}, nil, nil
	}
	text, err := r.music("")
	if err != nil {
		return nil, nil, err
	}
	s, _, err := musicxml.Read(bytes.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	page := &session.Page{Kind: session.Read, Title: "March in E-flat", Words: "march, rung 8, euphonium", For: r.music, Hints: []session.Hint{
		{Word: "clef, key", Text: "treble clef; F major, 1 flat (B); it sounds in E-flat major"}, {Word: "meter", Text: "6/8: 2 beats in a measure, each a dotted quarter"},
		{Word: "tempo", Text: "dotted quarter = 112, Tempo di marcia"}, {Word: "form", Text: "strain 1 to 16, repeated with two endings"},
		{Word: "dynamics", Text: "starts f, from mf (measure 5) to ff (measure 13), 2 hairpins"}, {Word: "outside", Text: "B-natural in 3, 7 and 11"},
		{Word: "most notes", Text: "measure 9, 8 notes"}, {Word: "leap", Text: "octave up, C4 to C5, measure 12"},
	}}
	if r.title != "" {
		page.Title = r.title
	}
	for _, m := range s.Parts[0].Measures {
		page.Measures = append(page.Measures, session.Measure{Number: m.Number})
	}
	l, err := timeline.LayOut(&s.Parts[0], timeline.CountIn{Chord: true, Measures: 1})
	if err != nil {
		return nil, nil, err
	}
	t := l.Timeline()
	run := session.Running{End: t.Time(t.End) + r.lingers}
	for _, b := range t.Beats {
		run.Beats = append(run.Beats, session.Beat{At: t.Time(b.At), Measure: b.Measure, Number: b.Number, Pass: b.Pass, Beat: b.Beat, Of: b.Of})
	}
	return page, &rehearsed{r, run}, nil
}

func (r *rehearsal) music(instrument string) ([]byte, error) {
	name := r.file
	switch instrument {
	case "", "euphonium-tc":
	case "trombone":
		name = "strain-trombone"
	default:
		return nil, fmt.Errorf("instrument %.30q: not known", instrument)
	}
	text, err := os.ReadFile(filepath.Join("testdata", name+".musicxml"))
	if err == nil && r.twist != nil {
		text = r.twist(text)
	}
	return text, err
}

// Record is session.Studio's.
func (r *rehearsal) Record(context.Context) ([]string, error) {
	return []string{"week 47   5 reads   88 % as written"}, nil
}

type rehearsed struct {
	*rehearsal
	run session.Running
}

// Play is session.Performance's.
func (p *rehearsed) Play(ctx context.Context) (session.Band, error) {
	run := p.run
	run.Start = p.clock()
	return &silentBand{ctx, run}, nil
}

// Keep is session.Performance's.
func (p *rehearsed) Keep(_ context.Context, marks []session.Mark, stopped int) (*session.Lesson, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	l := &session.Lesson{Of: len(marks), Right: len(marks), Lines: []string{"Pitch slipped more than rhythm."}, Next: p.choice(),
		Why: []string{"One more on rung 8."}, Traps: []string{"measure 9 starts like the dominant seventh and leaves it"}}
	for i, m := range marks {
		if m.Slipped() {
			l.Right--
			p.kept = append(p.kept, fmt.Sprint(i, m.Pitch, m.Rhythm))
		}
	}
	p.kept = append(p.kept, fmt.Sprint("stopped ", stopped))
	if l.Right < l.Of {
		l.Drill = &session.Choice{Kind: session.Drill, Minutes: 3}
		l.Figures = []session.Behind{{Name: "dominant seventh up", Notes: []string{"C4", "E4", "G4", "Bb4"}, Rhythm: "four sixteenths", Measures: []int{9}, Times: 1}}
	}
	return l, nil
}

type silentBand struct {
	ctx context.Context
	run session.Running
}

// Running is session.Band's.
func (b *silentBand) Running() session.Running { return b.run }

// Wait is session.Band's.
func (b *silentBand) Wait() ([]string, bool, error) {
	if wait(b.ctx, b.run.End) != nil {
		return nil, true, nil
	}
	return []string{"The band was on time."}, false, nil
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// open serves a stand of the rehearsal on this machine until the test ends.
func (r *rehearsal) open(t testing.TB) (*Stand, *session.Session) {
	t.Helper()
	began := time.Now()
	if r.clock == nil {
		r.clock = func() time.Duration { return time.Hour + time.Since(began) }
	}
	ctx, stop := context.WithCancel(context.Background())
	practice := session.New(ctx, r, r.clock, wait)
	l, err := Listen("", false)
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(practice, l)
	if err != nil {
		t.Fatal(err)
	}
	if r.ready != nil {
		r.ready(s)
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-served; err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		practice.Wait()
	})
	if err := practice.Do(session.Action{Do: session.DoOffer}); err != nil {
		t.Fatal(err)
	}
	for st := range practice.Watch(ctx) {
		if st.Offer != nil {
			break
		}
	}
	return s, practice
}
