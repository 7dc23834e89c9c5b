package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"onward/cmd/internal/stand"

	"github.com/spf13/cobra"
)

// The suffixes of a page on paper.
const pdfSuffix = ".pdf"

// sheetSuffix is that of a page's sheet n, from 1.
func sheetSuffix(n int) string { return fmt.Sprintf("-%d.svg", n) }

// printOptions say what is made for paper.
type printOptions struct {
	PDF   bool
	SVG   bool
	Paper string // "" for what is usual where the player is
}

// printFlags gives cmd the flags.
func (o *printOptions) printFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.PDF, "pdf", false, "engrave the page for paper, too (PDF); needs Chromium, Chrome or Edge on this machine")
	f.BoolVar(&o.SVG, "svg", false, "engrave the page as drawings, too: NAME-1.svg, NAME-2.svg, ..., one for each sheet")
	f.StringVar(&o.Paper, "paper", "", "`PAPER` of --pdf and --svg: a4 or letter (default: letter in the US, Canada and Mexico, by LC_PAPER or LANG, else a4)")
	completeSome(cmd, map[string]func() []string{"paper": func() []string { return []string{stand.A4.Name, stand.Letter.Name} }})
}

func (o *printOptions) prints() bool { return o.PDF || o.SVG }

// checkPaper refuses a paper that is none, or that nothing is printed on.
func (o *printOptions) checkPaper(given func(flag string) bool) error {
	if !given("paper") {
		return nil
	}
	if _, err := stand.ParsePaper(o.Paper); err != nil {
		return askedf("--%w", err)
	}
	if !o.prints() {
		return askedf("--paper %s: it is for --pdf and --svg; add one of them, or leave it out", o.Paper)
	}
	return nil
}

// flag is what was asked for, for errors.
func (o *printOptions) flag() string {
	if o.PDF {
		return "--pdf"
	}
	return "--svg"
}

// printAgain lists the flags that ask for the same.
func (o *printOptions) printAgain() (words []string) {
	if o.PDF {
		words = append(words, "--pdf")
	}
	if o.SVG {
		words = append(words, "--svg")
	}
	if o.Paper != "" {
		words = append(words, "--paper", o.Paper)
	}
	return words
}

// A printer engraves pages for paper; see stand.Printer.
type printer interface {
	Print(ctx context.Context, music []byte, name string, pdf bool) (*stand.Printed, error)
	Close()
}

// startPrinter starts a browser of this machine.
func startPrinter(ctx context.Context, paper stand.Paper) (printer, error) {
	if !stand.HasEngraver() { // which no browser mends
		return nil, stand.ErrNoEngraver
	}
	program, err := stand.FindBrowser()
	if err != nil {
		return nil, err
	}
	p, err := stand.NewPrinter(ctx, program, paper)
	if err != nil {
		return nil, err
	}
	return p, nil
}

// openPrinter opens the printer, before anything is written; nil where nothing is printed.
func (o *printOptions) openPrinter(ctx context.Context, e *env) (p printer, err error) {
	if !o.prints() {
		return nil, nil
	}
	paper := e.paper
	if o.Paper != "" {
		if paper, err = stand.ParsePaper(o.Paper); err != nil {
			return nil, askedf("--%w", err)
		}
	}
	err = stand.ErrNoBrowser
	if e.printer != nil {
		if p, err = e.printer(ctx, paper); err == nil {
			return p, nil
		}
	}
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.Is(err, stand.ErrNoEngraver):
		return nil, asked(fmt.Errorf("%s: %w", o.flag(), err),
			"run `go generate ./cmd/internal/stand` and build again; or leave it out and print NAME.musicxml with a notation program")
	case errors.Is(err, stand.ErrNoBrowser):
		return nil, asked(fmt.Errorf("%s: %w", o.flag(), err),
			"install one, or print with the browser that you have: `onward stand`, and there Menu, Print the page")
	}
	return nil, fmt.Errorf("%s: %w", o.flag(), err)
}

// print engraves the pages of drafts and adds what it makes to them; nothing where p is nil.
func (o *printOptions) print(ctx context.Context, p printer, drafts []*files) error {
	if p == nil {
		return nil
	}
	for _, f := range drafts {
		if err := o.printOne(ctx, p, f); err != nil {
			return err
		}
	}
	return nil
}

func (o *printOptions) printOne(ctx context.Context, p printer, f *files) error {
	music, err := os.ReadFile(f.draft(pageSuffix))
	if err != nil {
		return err
	}
	made, err := p.Print(ctx, music, f.name, o.PDF)
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return fmt.Errorf("%s for paper: %w", f.path(pageSuffix), err)
	}
	write := func(suffix string, text []byte) error {
		return f.write(suffix, func(w io.Writer) error {
			_, err := w.Write(text)
			return err
		})
	}
	if o.PDF {
		if err := write(pdfSuffix, made.PDF); err != nil {
			return err
		}
	}
	if !o.SVG {
		return nil
	}
	for i, sheet := range made.Sheets {
		if err := write(sheetSuffix(i+1), []byte(sheet)); err != nil {
			return err
		}
	}
	f.sheets = len(made.Sheets)
	return nil
}

// dropOldSheets takes away the sheets behind the last that an earlier printing of the page,
// on another paper, has left.
func (f *files) dropOldSheets() {
	if f.sheets == 0 {
		return
	}
	for n := f.sheets + 1; os.Remove(f.path(sheetSuffix(n))) == nil; n++ {
	}
}
