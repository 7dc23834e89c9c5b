// Command fit learns what the composer knows of real tunes, and writes it into the data
// files of package idiom:
//
//	go run ./cmd/fit --from ../shared/melodies/melodies.jsonl
//
// With --critics it learns the critics of package critic instead, which tell real tunes from
// reads, so that reads must be made by the composer as it then stands, without a critic:
//
//	go run ./cmd/fit --from ../shared/melodies/melodies.jsonl --critics compose/critic/critics.txt
package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"onward/compose/fit"
	"onward/compose/idiom"
	"onward/compose/tune"
)

func main() {
	from := flag.String("from", "", "melodies to learn from, JSON lines")
	to := flag.String("to", "compose/idiom", "folder that march.txt and song.txt are written into")
	date := flag.String("date", time.Now().UTC().Format(time.DateOnly), "day that the heads of the files name")
	rounds := flag.Int("rounds", 200, "rounds of the optimizer at most")
	critics := flag.String("critics", "", "file that critics are written into, instead of idioms")
	reads := flag.Int("reads", 500, "reads of each meter that critics are learned from")
	flag.Parse()
	if err := run(*from, *to, *date, *rounds, *critics, *reads); err != nil {
		fmt.Fprintln(os.Stderr, "fit:", err)
		os.Exit(2)
	}
}

func run(from, to, date string, rounds int, critics string, reads int) error {
	text, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	rows, err := tune.Rows(bytes.NewReader(text))
	if err != nil {
		return fmt.Errorf("%s: %w", from, err)
	}
	if critics != "" {
		return writeCritics(critics, rows, reads, date)
	}
	if err := replace(filepath.Join(to, "runs.bin"), runsOf(rows)); err != nil {
		return err
	}
	for _, kind := range []fit.Kind{fit.March, fit.Song} {
		d, reports, err := fit.Learn(kind, rows, rounds)
		if err != nil {
			return err
		}
		d.Head = head(kind, date, reports)
		var b bytes.Buffer
		if err := d.Write(&b); err != nil {
			return err
		}
		name := filepath.Join(to, string(kind)+".txt")
		if err := replace(name, b.Bytes()); err != nil {
			return err
		}
		fmt.Printf("%s: %d bytes\n", name, b.Len())
		for _, r := range reports {
			fmt.Printf("  %+v\n", r)
		}
	}
	return nil
}

// runsOf reports the runs that no read may share with a tune, those held back too: as they are
// written, and in halved values where tunes are learned from so.
func runsOf(rows []*tune.Row) []byte {
	var runs idiom.RunSet
	for _, r := range rows {
		var midi []int
		var at, halved []int64
		for _, n := range r.Notes {
			midi, at, halved = append(midi, n[2]), append(at, int64(n[0]/2)), append(halved, int64(n[0]/4))
		}
		if runs = runs.Add(midi, at); r.Meter == [2]int{2, 2} || r.Meter == [2]int{4, 4} {
			runs = runs.Add(midi, halved)
		}
	}
	return runs.Bytes()
}

// replace writes a file as a draft first, so that it is never half there.
func replace(name string, text []byte) error {
	draft := name + ".draft"
	if err := os.WriteFile(draft, text, 0o644); err != nil {
		return err
	}
	return os.Rename(draft, name)
}

// sources says what each kind is learned from.
var sources = map[fit.Kind]string{
	fit.March: "strains of nine band marches (public-domain band parts) and, counting less, dance tunes of printed collections of about 1880 to 1907 (public domain)",
	fit.Song:  "art songs and vocalises (CC0 transcriptions) and dance tunes in 3/4 of printed collections of about 1880 to 1907 (public domain)",
}

// head makes the head of a data file: from what, by which command, when, how well it fits.
func head(kind fit.Kind, date string, reports []fit.Report) []string {
	lines := []string{
		"What was learned from real tunes for the kind " + string(kind) + ". It holds no tune.",
		"From " + sources[kind] + ";",
		"a third of the tunes, by a hash of their names, was held back.",
		"By: go run ./cmd/fit --from ../shared/melodies/melodies.jsonl, on " + date + ".",
	}
	for _, r := range reports {
		lines = append(lines, fmt.Sprintf("%s: %d tunes learned, %d forms; of %d tunes held back each of %d new notes takes %.3f bits.",
			r.Meter, r.Lessons, r.Forms, r.Held, r.Notes, r.Bits))
	}
	return append(append(lines, ""), idiom.Legend...)
}
