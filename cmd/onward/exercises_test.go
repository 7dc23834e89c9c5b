package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"onward/compose"
	"onward/compose/musicxml"
	"onward/compose/score"
)

// bends is an exercise on a pattern that is no figure of the catalogue, and steps.
const bends = "key F; 4/4 treble F4:8 A4:8 C5:8 F4:8 A4:2 | Bb4:8 D5:8 F5:8 Bb4:8 D5:2 | C4:8 E4:8 G4:8 C4:8 E4:2 | D4:8 F4:8 A4:8 D4:8 F4:2 |" +
	" F4:4 G4:4 A4:2 | A4:4 G4:4 F4:2 | C5:8 D5:8 E5:8 D5:8 C5:2 | Bb4:8 A4:8 G4:8 A4:8 Bb4:2 | D5:4 C5:4 Bb4:4 A4:4 | G4:4 A4:4 Bb4:4 G4:4 |" +
	" C5:8 Bb4:8 A4:8 G4:8 F4:2 | F4:4 A4:4 C5:4 A4:4 | F4:1 |]"

// writePage writes music text as a MusicXML file.
func writePage(t *testing.T, name, text string) {
	t.Helper()
	p := score.MustText(text)
	p.Name = "Trumpet"
	var b bytes.Buffer
	if err := musicxml.Write(&b, &score.Score{Title: "Exercise", Parts: []score.Part{p}}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

// learnedOf is what learn prints as JSON.
func learnedOf(t *testing.T, s *stage, args string) learned {
	t.Helper()
	var l learned
	if err := json.Unmarshal([]byte(fine(t, s, "learn --json "+args)), &l); err != nil {
		t.Fatal(err)
	}
	return l
}

// A pattern of the player's own is found, named, kept by its name, and stands in reads.
func TestReadOfAFigureOfOnesOwn(t *testing.T) {
	s := newStage(t)
	writePage(t, "bends.musicxml", bends)
	inOrder(t, fine(t, s, "learn bends.musicxml"), "own 1, on four eighths, half\n", "own 1: up a third, up a third, down a fifth, up a third\n", " note by note (")
	code, out, err := s.run("learn", "bends.musicxml", "--save", "daily", "--name", "own 1=lip bend")
	if code != exitFine {
		t.Fatalf("exit code %d: %s", code, err)
	}
	inOrder(t, out, "lip bend, on four eighths, half\n", "lip bend: up a third")
	if l := learnedOf(t, s, "bends.musicxml --save daily"); len(l.Own) != 1 || l.Own[0].Name != "lip bend" {
		t.Errorf("learned again it is %v", l.Own)
	}
	used := 0
	for seed := range 10 {
		args := fmt.Sprintf("write --json --figures daily --style lyrical --meter 4/4 --measures 8 --rung 10 --instrument trumpet --seed %d", seed)
		var d compose.Document
		if err := json.Unmarshal([]byte(fine(t, s, args)), &d); err != nil {
			t.Fatal(err)
		}
		for _, f := range d.Figures {
			if f.Shape == "lip bend" {
				used++
			}
		}
	}
	if used < 3 {
		t.Errorf("ten reads made of it have it %d times, want 3 or more", used)
	}
	t.Logf("ten reads of eight measures have it %d times", used)
}

// An exercise learned from the program's own MIDI file is the one of its page, but where the
// page says what no MIDI file can: whether a note is short or a rest follows, how a chromatic
// note is spelled. Below the rungs of chromatic notes that is rare.
func TestLearnMIDI(t *testing.T) {
	s := newStage(t)
	const reads, least = 6, 5
	same, others := 0, ""
	for seed := range reads {
		fine(t, s, fmt.Sprintf("write --style lyrical --rung 5 --meter 3/4 --measures 16 --seed %d --instrument trombone --guide", seed))
		name := fmt.Sprintf("lyrical-r5-%d", seed)
		page, played := learnedOf(t, s, name+".musicxml"), learnedOf(t, s, name+".mid --track Trombone")
		if page.Total == played.Total && page.Explained == played.Explained && fmt.Sprint(page.Figures, page.Keys, page.Meters) == fmt.Sprint(played.Figures, played.Keys, played.Meters) {
			same++
		} else {
			others += fmt.Sprintf("page   %+v\nplayed %+v\n", page, played)
		}
	}
	if same < least {
		t.Errorf("%d of %d are the same, want %d\n%s", same, reads, least, others)
	}
	code, _, err := s.run("learn", "lyrical-r5-3.mid", "--track", "Banjo")
	if code != exitRequest || !strings.Contains(err, `no track "Banjo" with notes: there is track 1`) {
		t.Errorf("exit code %d: %s", code, err)
	}
	code, _, err = s.run("learn", "lyrical-r5-3.mid")
	if code != exitFine || !strings.Contains(err, "the line is that of track") {
		t.Errorf("exit code %d: %s", code, err)
	}
}

// A folder is learned with the folders in it; what cannot be read there is told and left
// out, but a file that was named must be read.
func TestLearnFolder(t *testing.T) {
	s := newStage(t)
	if err := os.MkdirAll(filepath.Join("all", "low"), 0o777); err != nil {
		t.Fatal(err)
	}
	writePage(t, "all/bends.musicxml", bends)
	writePage(t, "all/low/drill.xml", drill)
	for name, text := range map[string]string{"all/bad.mid": "no music", "all/notes.txt": "words"} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	code, out, err := s.run("learn", "all")
	if code != exitFine || !strings.Contains(out, "notes   84,") {
		t.Errorf("exit code %d, %s", code, out)
	}
	inOrder(t, err, "left out: all/bad.mid: midi file: ", "all: 1 of 3 exercises were left out\n")
	code, out, err = s.run("learn", "all", "all/bad.mid")
	if code != exitRequest || out != "" || !strings.Contains(err, "all/bad.mid: midi file: ") {
		t.Errorf("exit code %d, %q, %s", code, out, err)
	}
	for i := range mostExercises {
		if err := os.WriteFile(fmt.Sprintf("all/low/%d.mid", i), nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for args, want := range map[string]string{
		"learn all":                             "more than 1000 files",
		"learn all/empty":                       "no file in this folder ends in .musicxml",
		"learn all/none":                        "no such file",
		"learn all/bends.musicxml --name own":   "write the old name and the new one",
		"learn all/bends.musicxml --name own=x": `"own" is no shape of your own here: there is own 1`,
	} {
		if err := os.MkdirAll("all/empty", 0o777); err != nil {
			t.Fatal(err)
		}
		code, out, err := s.run(strings.Fields(args)...)
		if code != exitRequest || out != "" || !strings.Contains(err, want) {
			t.Errorf("onward %s: exit code %d, %q, %q, want %q", args, code, out, err, want)
		}
	}
}

// What takes long says how far it is, once a second at most.
func TestEverySecond(t *testing.T) {
	s := newStage(t)
	say := (&drillReader{warn: &s.err, now: s.now}).everySecond()
	for i := range 8 {
		say("%d of 8\n", i)
		s.clock = s.clock.Add(400 * time.Millisecond)
	}
	if got := s.err.String(); got != "3 of 8\n6 of 8\n" {
		t.Errorf("said %q", got)
	}
}
