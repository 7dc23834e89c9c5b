package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/styles"
	"onward/theory"
)

// outsidePrograms is the folder of the programs by others that read what this one writes.
const outsidePrograms = "../../testdata/outside"

// standScripts is the folder of what looks at the stand's page in a browser.
const standScripts = "../internal/stand/webtest"

// outsideSchema is the folder of the MusicXML 4.0 schema, beside this tree.
const outsideSchema = "../../../shared/musicxml-schema"

// An outsideRead is a read that the program wrote twice: with the player's line in its
// MIDI file, and without. Paths are whole.
type outsideRead struct {
	asked    []string // the flags, for failures
	page     string   // its MusicXML
	guided   string   // its MIDI file with --guide
	plain    string   // its MIDI file without
	document compose.Document
	// tempo, meter and key are what was asked for; 0 and "" where nothing was.
	tempo      int
	meter, key string
}

// absent skips the test, or fails it where ONWARD_OUTSIDE=1 asks for the programs.
func absent(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// lookedFor reports the path of a program; it is absent otherwise.
func lookedFor(t *testing.T, program, how string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		absent(t, program+" is not installed"+how)
	}
	return path
}

// script runs one of the scripts beside the programs by others and reports its lines.
func script(t *testing.T, folder, module, name string, input []byte, args ...string) [][]byte {
	t.Helper()
	node := lookedFor(t, "node", "")
	modules := filepath.Join(folder, "node_modules")
	if _, err := os.Stat(filepath.Join(modules, module)); err != nil {
		absent(t, module+" is not installed: npm ci --prefix testdata/outside")
	}
	run := exec.Command(node, append([]string{filepath.Join(folder, name)}, args...)...)
	run.Env = append(os.Environ(), "ONWARD_NODE_MODULES="+modules)
	run.Stdin = bytes.NewReader(input)
	var faults bytes.Buffer
	run.Stderr = &faults
	out, err := run.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, faults.String())
	}
	return bytes.Split(bytes.TrimSpace(out), []byte("\n"))
}

// TestOutside has whole reads, over all styles, rungs, instruments, keys, meters and
// forms, read by programs that share no code with this one. ONWARD_LONG=1 makes 1,000
// reads, of which the engraver plays 200.
func TestOutside(t *testing.T) {
	count, engraved := 48, 16
	if os.Getenv("ONWARD_LONG") == "1" {
		count, engraved = 1000, 200
	}
	programs, err := filepath.Abs(outsidePrograms)
	if err != nil {
		t.Fatal(err)
	}
	schema, err := filepath.Abs(outsideSchema)
	if err != nil {
		t.Fatal(err)
	}
	scripts, err := filepath.Abs(standScripts)
	if err != nil {
		t.Fatal(err)
	}
	reads := outsideReads(t, count)
	t.Run("Asked", func(t *testing.T) { checkAsked(t, reads) })
	t.Run("Schema", func(t *testing.T) { checkSchema(t, schema, reads) })
	t.Run("Engraver", func(t *testing.T) { checkEngraver(t, programs, every(reads, engraved)) })
	t.Run("Stand", func(t *testing.T) { checkStand(t, programs, scripts, every(reads, engraved)) })
	t.Run("MidiFile", func(t *testing.T) { checkMidiFile(t, programs, reads) })
	t.Run("Midicsv", func(t *testing.T) { checkMidicsv(t, programs, reads) })
	t.Run("Tonal", func(t *testing.T) { checkTonal(t, programs, reads) })
}

// every picks n reads, evenly.
func every(reads []outsideRead, n int) []outsideRead {
	var some []outsideRead
	for i := range n {
		some = append(some, reads[i*len(reads)/n])
	}
	return some
}

// outsideReads has the program write the reads, in a folder that the test then stands in.
func outsideReads(t *testing.T, count int) []outsideRead {
	t.Helper()
	s := newStage(t)
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	reads := make([]outsideRead, count)
	for i := range reads {
		r := &reads[i]
		r.ask(t, rungs, i)
		guided := s.writeOutside(t, r, filepath.Join(here, fmt.Sprintf("guided-%04d", i)), "--guide")
		plain := s.writeOutside(t, r, filepath.Join(here, fmt.Sprintf("plain-%04d", i)))
		r.page, r.guided, r.plain = guided+pageSuffix, guided+bandSuffix, plain+bandSuffix
		if !bytes.Equal(load(t, r.page), load(t, plain+pageSuffix)) {
			t.Errorf("%q: written again it is another page", r.asked)
		}
	}
	return reads
}

// ask settles what read i asks for: style and rung in turn, the rest drawn by i.
func (r *outsideRead) ask(t *testing.T, rungs *ladder.Ladder, i int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(i), 4))
	style, rung := styles.Names()[i%len(styles.Names())], 1+i/2%12
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	instruments := theory.Instruments()
	r.asked = []string{"--style", style, "--rung", fmt.Sprint(rung), "--seed", fmt.Sprint(i),
		"--instrument", instruments[rng.IntN(len(instruments))].ID}
	if k := rng.IntN(len(sheet.Forms) + 1); k < len(sheet.Forms) {
		r.asked = append(r.asked, "--form", sheet.Forms[k].Name)
	} else {
		r.asked = append(r.asked, "--measures", fmt.Sprint(4+rng.IntN(29)))
	}
	keys, meters := rungHas(rungs, rung)
	switch rng.IntN(4) {
	case 0:
		r.key = keys[rng.IntN(len(keys))]
		r.asked = append(r.asked, "--key", r.key)
	case 1:
		var open []string
		for _, m := range sheet.Meters {
			if strings.Contains(" "+strings.Join(meters, " ")+" ", " "+m.Name+" ") {
				open = append(open, m.Name)
			}
		}
		r.meter = open[rng.IntN(len(open))]
		r.asked = append(r.asked, "--meter", r.meter)
	case 2:
		if rung >= 5 { // the rungs below keep to a tempo of their own
			r.tempo = 50 + rng.IntN(90)
			r.asked = append(r.asked, "--tempo", fmt.Sprint(r.tempo))
		}
	}
}

// rungHas lists the concert keys and the meters of a rung, its own last.
func rungHas(l *ladder.Ladder, rung int) (keys, meters []string) {
	keys, meters = append(keys, l.Ground.Keys...), append(meters, l.Ground.Meters...)
	for _, r := range l.Rungs[:rung] {
		for _, thing := range r.Adds {
			keys, meters = append(keys, thing.Keys...), append(meters, thing.Meters...)
		}
	}
	return keys, meters
}

// writeOutside writes the read into the folder and reports its files' path without suffix.
func (s *stage) writeOutside(t *testing.T, r *outsideRead, folder string, more ...string) string {
	t.Helper()
	args := append(append([]string{"write", "--json", "--out", folder}, r.asked...), more...)
	code, out, faults := s.run(args...)
	if code != exitFine {
		t.Fatalf("onward %q: exit code %d: %s", args, code, faults)
	}
	r.document = compose.Document{}
	if err := json.Unmarshal([]byte(out), &r.document); err != nil {
		t.Fatalf("onward %q: %v", args, err)
	}
	pages, err := filepath.Glob(filepath.Join(folder, "*"+pageSuffix))
	if err != nil || len(pages) != 1 {
		t.Fatalf("onward %q: pages %q, %v", args, pages, err)
	}
	return strings.TrimSuffix(pages[0], pageSuffix)
}

// checkAsked finds in the documents what was asked for, and says over what the reads went;
// of a thousand none of it may be left out.
func checkAsked(t *testing.T, reads []outsideRead) {
	used := map[string]int{}
	for _, r := range reads {
		d := &r.document
		if r.meter != "" && d.Meter != r.meter || r.tempo != 0 && d.Tempo.BPM != r.tempo || r.key != "" && d.Key.Concert != r.key {
			t.Errorf("%q: got %s, %d, %s", r.asked, d.Meter, d.Tempo.BPM, d.Key.Concert)
		}
		for _, word := range []string{d.Instrument.ID, d.Meter, d.Key.Concert, fmt.Sprint(d.Style, " ", d.Rung), fmt.Sprint(len(d.Sections), " sections")} {
			used[word]++
		}
	}
	t.Log(used)
	if len(reads) < 1000 {
		return
	}
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	want, meters := rungHas(rungs, len(rungs.Rungs))
	want = append(want, meters...)
	for _, in := range theory.Instruments() {
		want = append(want, in.ID)
	}
	for _, word := range want {
		if used[word] == 0 {
			t.Errorf("no read has %s", word)
		}
	}
}
