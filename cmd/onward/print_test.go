package main

import (
	"context"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/stand"
)

// A paperless printer engraves nothing: it says what it was asked.
type paperless struct {
	s      *stage
	paper  stand.Paper
	names  []string
	sheets int           // for each page
	takes  time.Duration // for each page
	fails  error         // of the second page
	closed int
}

func (p *paperless) Print(_ context.Context, music []byte, name string, pdf bool) (*stand.Printed, error) {
	p.names = append(p.names, name)
	p.s.clock = p.s.clock.Add(p.takes)
	if p.fails != nil && len(p.names) > 1 {
		return nil, p.fails
	}
	made := &stand.Printed{}
	for range p.sheets {
		made.Sheets = append(made.Sheets, "sheet of "+name)
	}
	if pdf {
		made.PDF = slices.Concat([]byte("paper "), music)
	}
	return made, nil
}

func (p *paperless) Close() { p.closed++ }

// printing makes a stage with the printer, where A4 is usual.
func printing(t *testing.T, p *paperless) *stage {
	t.Helper()
	s := newStage(t)
	p.s = s
	s.env.paper = stand.A4
	s.env.printer = func(_ context.Context, paper stand.Paper) (printer, error) {
		p.paper = paper
		return p, nil
	}
	return s
}

// there lists the files of the folder that the test stands in, the journal's aside.
func there(t *testing.T) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "journal.db") {
			names = append(names, e.Name())
		}
	}
	return names
}

func TestPrintFiles(t *testing.T) {
	p := &paperless{sheets: 2}
	s := printing(t, p)
	out := fine(t, s, "write --seed 7 --pdf --svg")
	want := []string{"march-r3-7-1.svg", "march-r3-7-2.svg", "march-r3-7.json", "march-r3-7.mid", "march-r3-7.musicxml", "march-r3-7.pdf"}
	if got := there(t); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, page := string(load(t, "march-r3-7.pdf")), string(load(t, "march-r3-7.musicxml")); got != "paper "+page {
		t.Errorf("another page is engraved: %.60q", got)
	}
	if p.paper != stand.A4 || p.closed != 1 {
		t.Errorf("on %v, closed %d times", p.paper, p.closed)
	}
	for _, words := range []string{".pdf -1.svg -2.svg)", "--pdf --svg --seed 7"} {
		if !strings.Contains(out, words) {
			t.Errorf("it says nothing of %q:\n%s", words, out)
		}
	}
	// On paper that takes one sheet, no second one of before stays.
	p.sheets = 1
	fine(t, s, "write --seed 7 --svg --paper Letter")
	if got, want := there(t), slices.Delete(want, 1, 2); !slices.Equal(got, want) || p.paper != stand.Letter {
		t.Errorf("got %q on %v, want %q on letter", got, p.paper, want)
	}
}

func TestPrintMany(t *testing.T) {
	p := &paperless{sheets: 1, takes: 900 * time.Millisecond}
	s := printing(t, p)
	code, _, said := s.run("write", "--seed", "1", "--count", "8", "--pdf")
	if code != exitFine || len(p.names) != 8 || p.closed != 1 {
		t.Fatalf("exit code %d, %q printed, closed %d times:\n%s", code, p.names, p.closed, said)
	}
	if want := "7 of 8 reads\n"; said != want { // after 5.4 s; there is no word of the last
		t.Errorf("said %q, want %q", said, want)
	}
}

func TestPrintWarmupAndDrills(t *testing.T) {
	p := &paperless{sheets: 1}
	s := printing(t, p)
	out := fine(t, s, "warmup --written --pdf --day 2026-11-25")
	if load(t, "warmup-2026-11-25.pdf"); !strings.Contains(out, "again      onward warmup --day 2026-11-25 --written --pdf\n") {
		t.Errorf("said:\n%s", out)
	}
	if err := os.WriteFile("duet.musicxml", []byte(duet), 0o666); err != nil {
		t.Fatal(err)
	}
	p.names = nil
	fine(t, s, "survey duet.musicxml --part 1 --prepare --pdf")
	if len(p.names) != 1+readsPrepared || p.names[0] != "duet-part-1-drills" {
		t.Errorf("printed %q", p.names)
	}
	for _, name := range p.names {
		load(t, name+pdfSuffix)
	}
}

// A page that cannot be printed is not written, and the journal does not know it.
func TestPrintFails(t *testing.T) {
	for _, c := range []struct {
		name  string
		open  error // no printer
		print error
		code  int
		want  []string
		kept  []string // files
	}{
		{"engraver", stand.ErrNoEngraver, nil, exitRequest, []string{"--pdf: this build carries no engraver", "go generate ./cmd/internal/stand", "NAME.musicxml"}, nil},
		{"browser", stand.ErrNoBrowser, nil, exitRequest, []string{"--pdf: no Chromium, Chrome or Edge", "install one", "onward stand", "Print the page"}, nil},
		{"start", errors.New("chromium: it ended"), nil, exitFault, []string{"--pdf: chromium: it ended"}, nil},
		{"print", nil, errors.New("chromium: it ended"), exitFault, []string{"after 1 of 3 reads: march-r3-2.musicxml for paper: chromium: it ended"},
			[]string{"march-r3-1.json", "march-r3-1.mid", "march-r3-1.musicxml", "march-r3-1.pdf"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := &paperless{sheets: 1, fails: c.print}
			s := printing(t, p)
			if c.open != nil {
				s.env.printer = func(context.Context, stand.Paper) (printer, error) { return nil, c.open }
			}
			code, out, said := s.run("write", "--seed", "1", "--count", "3", "--pdf")
			if code != c.code || strings.Contains(out, "march-r3-2") {
				t.Errorf("exit code %d, want %d; printed %q", code, c.code, out)
			}
			for _, words := range c.want {
				if !strings.Contains(said, words) {
					t.Errorf("said %q, want %q in it", said, words)
				}
			}
			if got := there(t); !slices.Equal(got, c.kept) {
				t.Errorf("files %q, want %q", got, c.kept)
			}
			if out := fine(t, s, "write --seed 2"); strings.Contains(out, "repeat") {
				t.Errorf("the journal has the read:\n%s", out)
			}
		})
	}
}

// A page of the player's own that has the name is not written over.
func TestPrintKeepsOthersFiles(t *testing.T) {
	s := printing(t, &paperless{sheets: 1})
	if err := os.WriteFile("march-r3-7.pdf", []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	fine(t, s, "write --seed 7 --pdf")
	if got := string(load(t, "march-r3-7.pdf")); got != "mine" {
		t.Errorf("it holds %.40q", got)
	}
	load(t, "march-r3-7-2.pdf")
}
