package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"onward/cmd/internal/stand"
	"onward/compose"
	"onward/theory"
)

// A kept printer stays open from one invocation to the next, and remembers what it made.
type keptPrinter struct {
	printer
	last *stand.Printed
}

func (k *keptPrinter) Print(ctx context.Context, music []byte, name string, pdf bool) (p *stand.Printed, err error) {
	p, err = k.printer.Print(ctx, music, name, pdf)
	k.last = p
	return p, err
}

func (k *keptPrinter) Close() {}

// realPrinter starts the browser of this machine; it is absent otherwise.
func realPrinter(t *testing.T, paper stand.Paper) printer {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "" {
		t.Skip("a browser is started: set ONWARD_OUTSIDE=1")
	}
	p, err := startPrinter(t.Context(), paper)
	switch {
	case errors.Is(err, stand.ErrNoEngraver):
		absent(t, "this build has no engraver: go generate ./cmd/internal/stand")
	case errors.Is(err, stand.ErrNoBrowser):
		absent(t, "no browser is installed (Debian: chromium)")
	case err != nil:
		t.Fatal(err)
	}
	return p
}

// printedReads are what TestOutsidePrint prints, for each instrument and paper.
var printedReads = [][]string{
	{"--style", "march", "--form", "snippet", "--rung", "3", "--seed", "7"},
	{"--style", "march", "--form", "strain", "--rung", "8", "--meter", "6/8", "--seed", "12"},
	{"--style", "march", "--form", "march", "--rung", "9", "--seed", "1"},
	{"--style", "lyrical", "--form", "song", "--rung", "6", "--seed", "3"},
	{"--style", "march", "--form", "march", "--rung", "12", "--seed", "5"},
}

// TestOutsidePrint prints whole reads with a real browser and has them looked at by programs
// that share no code with this one: poppler (pdfinfo, pdftotext, pdftoppm) and librsvg.
func TestOutsidePrint(t *testing.T) {
	for _, program := range []string{"pdfinfo", "pdftotext", "pdftoppm"} {
		lookedFor(t, program, " (Debian: poppler-utils)")
	}
	lookedFor(t, "rsvg-convert", " (Debian: librsvg2-bin)")
	for _, paper := range []stand.Paper{stand.A4, stand.Letter} {
		t.Run(paper.Name, func(t *testing.T) {
			real := realPrinter(t, paper)
			defer real.Close()
			kept := &keptPrinter{printer: real}
			s := newStage(t)
			s.env.printer = func(context.Context, stand.Paper) (printer, error) { return kept, nil }
			for _, instrument := range []string{"trumpet", "tuba-bb"} {
				for i, asked := range printedReads {
					if i == len(printedReads)-1 && instrument != "tuba-bb" {
						continue // it is there for its two sheets
					}
					folder := fmt.Sprintf("%s-%d", instrument, i)
					args := append([]string{"write", "--pdf", "--svg", "--json", "--instrument", instrument, "--paper", paper.Name, "--out", folder}, asked...)
					code, out, said := s.run(args...)
					if code != exitFine {
						t.Fatalf("onward %q: exit code %d: %s", args, code, said)
					}
					checkPrinted(t, folder, out, paper, kept.last)
				}
			}
		})
	}
}

// edge is what a printer may not reach, in millimetres (common practice: 3 to 6).
const edge = 8

// checkPrinted looks at the files of one read.
func checkPrinted(t *testing.T, folder, document string, paper stand.Paper, made *stand.Printed) {
	t.Helper()
	var d compose.Document
	if err := json.Unmarshal([]byte(document), &d); err != nil {
		t.Fatal(err)
	}
	pdfs, _ := filepath.Glob(filepath.Join(folder, "*.pdf"))
	if len(pdfs) != 1 {
		t.Fatalf("%s: %q", folder, pdfs)
	}
	name := strings.TrimSuffix(pdfs[0], pdfSuffix)
	sheets := len(made.Sheets)
	checkPaperOf(t, pdfs[0], paper, sheets)
	in, err := theory.InstrumentByID(d.Instrument.ID)
	if err != nil {
		t.Fatal(err)
	}
	notes := 0
	for n := 1; n <= sheets; n++ {
		text := strings.Join(strings.Fields(output(t, "pdftotext", "-layout", "-f", fmt.Sprint(n), "-l", fmt.Sprint(n), pdfs[0], "-")), " ")
		text = strings.ReplaceAll(text, " / ", "/") // as the tool likes
		want := []string{d.Title, in.Name, fmt.Sprintf("%d/%d", n, sheets)}
		if n == 1 {
			want = append(want, fmt.Sprintf("= %d", d.Tempo.BPM))
		}
		for _, words := range want {
			if !strings.Contains(text, words) {
				t.Errorf("%s: sheet %d lacks %q: %s", name, n, words, text)
			}
		}
		svg := name + sheetSuffix(n)
		drawn := string(load(t, svg))
		notes += len(regexp.MustCompile(`class="note["\s]`).FindAllString(drawn, -1))
		if systems := strings.Count(drawn, `class="system"`); systems != made.Systems[n-1] || sheets > 1 && systems < 2 {
			t.Errorf("%s: %d lines of music, said %d of %d sheets", svg, systems, made.Systems[n-1], sheets)
		}
		if regexp.MustCompile(`(href|src)="[^#]|url\(|<(image|script|foreignObject)`).MatchString(drawn) {
			t.Errorf("%s: it needs something else", svg)
		}
		checkInk(t, svg, paper, []byte(output(t, "rsvg-convert", "--background-color", "white", "--dpi-x", "72", "--dpi-y", "72", svg)))
		checkInk(t, fmt.Sprintf("%s, sheet %d", pdfs[0], n), paper,
			[]byte(output(t, "pdftoppm", "-png", "-r", "72", "-f", fmt.Sprint(n), "-l", fmt.Sprint(n), pdfs[0])))
	}
	if written := bytes.Count(load(t, name+pageSuffix), []byte("<pitch>")); notes != written || notes == 0 {
		t.Errorf("%s: %d notes are engraved, %d written", name, notes, written)
	}
	if made.Staff < 6.4 || made.Staff > 7 {
		t.Errorf("%s: staves of %v mm", name, made.Staff)
	}
	t.Logf("%s on %s: lines %v, staves of %v mm, %d notes", name, paper.Name, made.Systems, made.Staff, notes)
}

// checkPaperOf wants a PDF of so many sheets of the paper; its lengths are points, 72 to the inch.
func checkPaperOf(t *testing.T, pdf string, paper stand.Paper, sheets int) {
	t.Helper()
	info := output(t, "pdfinfo", pdf)
	size := regexp.MustCompile(`Page size:\s+([\d.]+) x ([\d.]+) pts`).FindStringSubmatch(info)
	pages := regexp.MustCompile(`Pages:\s+(\d+)`).FindStringSubmatch(info)
	if size == nil || pages == nil {
		t.Fatalf("%s:\n%s", pdf, info)
	}
	for i, want := range []float64{paper.Width, paper.Height} {
		if points, err := strconv.ParseFloat(size[i+1], 64); err != nil || math.Abs(points/72*25.4-want) > 0.5 {
			t.Errorf("%s: %s, want %v by %v mm", pdf, size[0], paper.Width, paper.Height)
		}
	}
	if pages[1] != fmt.Sprint(sheets) {
		t.Errorf("%s: %s pages, %d sheets", pdf, pages[1], sheets)
	}
}

// checkInk wants a picture of a sheet to have ink, none of it near the edge.
func checkInk(t *testing.T, what string, paper stand.Paper, picture []byte) {
	t.Helper()
	m, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	size := m.Bounds()
	perDot := paper.Width / float64(size.Dx())
	if high := float64(size.Dy()) * perDot; math.Abs(high-paper.Height) > 1 {
		t.Errorf("%s: %v mm high, want %v", what, high, paper.Height)
	}
	near := int(edge / perDot)
	ink, outside := 0, 0
	inner := image.Rect(size.Min.X+near, size.Min.Y+near, size.Max.X-near, size.Max.Y-near)
	for y := size.Min.Y; y < size.Max.Y; y++ {
		for x := size.Min.X; x < size.Max.X; x++ {
			if color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y > 200 {
				continue
			}
			ink++
			if !(image.Point{X: x, Y: y}).In(inner) {
				outside++
			}
		}
	}
	if share := float64(ink) / float64(size.Dx()*size.Dy()); share < 0.002 || share > 0.2 || outside > 0 {
		t.Errorf("%s: %.2f %% ink, %d dots of it within %d mm of the edge", what, 100*share, outside, edge)
	}
}

// output runs a program and reports what it prints.
func output(t *testing.T, program string, args ...string) string {
	t.Helper()
	var faults bytes.Buffer
	run := exec.Command(program, args...)
	run.Stderr = &faults
	out, err := run.Output()
	if err != nil {
		t.Fatalf("%s %q: %v\n%s", program, args, err, faults.String())
	}
	return string(out)
}

// TestOutsidePrintLeavesNothing prints three reads with one browser, breaks off another time,
// and looks for what stays: no process, no folder, and of what was broken off no file.
func TestOutsidePrintLeavesNothing(t *testing.T) {
	s := newStage(t)
	room := t.TempDir()
	t.Setenv("TMPDIR", room)
	started := 0
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	s.env.printer = func(context.Context, stand.Paper) (printer, error) {
		started++
		p := realPrinter(t, stand.A4)
		if started == 2 {
			leave()
		}
		return p, nil
	}
	fine(t, s, "write --seed 1 --count 3 --pdf")
	if pdfs, _ := filepath.Glob("*.pdf"); started != 1 || len(pdfs) != 3 {
		t.Errorf("%d browsers made %q", started, pdfs)
	}
	if code, out, _ := s.runIn(ctx, "write", "--seed", "5", "--pdf", "--out", "left"); code != exitInterrupted || out != "" {
		t.Errorf("broken off: exit code %d, printed %q", code, out)
	}
	if left, _ := os.ReadDir("left"); len(left) > 0 {
		t.Errorf("it left %v", left)
	}
	if stays, err := os.ReadDir(room); err != nil || len(stays) > 0 {
		t.Errorf("%v stays in the folder for temporary files, %v", stays, err)
	}
	if runtime.GOOS != "linux" {
		return
	}
	processes, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil || len(processes) == 0 {
		t.Fatalf("no process is seen: %v", err)
	}
	for _, p := range processes {
		if line, _ := os.ReadFile(p); bytes.Contains(line, []byte(room)) {
			t.Errorf("%s runs: %.300q", p, line)
		}
	}
}
