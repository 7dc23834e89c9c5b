package main

import (
	"bytes"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"onward/compose/musicxml"
	"onward/compose/score"
)

// writeParts writes a score of parts, each "name: music text", as a MusicXML file.
func writeParts(t *testing.T, name string, parts ...string) {
	t.Helper()
	s := score.Score{Title: "Duet"}
	for _, text := range parts {
		part, music, _ := strings.Cut(text, ": ")
		p := score.MustText(music)
		p.Name = part
		s.Parts = append(s.Parts, p)
	}
	var b bytes.Buffer
	if err := musicxml.Write(&b, &s); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

const (
	scale  = "key C; 4/4 treble C4:8 D4:8 E4:8 F4:8 G4:4 r:4 | E4:8 F4:8 G4:8 A4:8 B4:4 r:4 | C5:1 |]"               // 11 notes
	chords = "key C; 4/4 treble G4:4 G4:4 G4:4 G4:4 | F4:4 F4:4 F4:4 F4:4 | E4:4 E4:4 E4:4 E4:4 | F4:4 F4:4 G4:2 |]" // 15 notes
)

// Of several parts those of players are learned and not their accompaniment, or the one that
// is asked for; what was taken is said.
func TestLearnParts(t *testing.T) {
	for _, c := range []struct {
		parts []string
		flags string
		notes int
		said  string
	}{
		{[]string{"Trombone: " + scale, "Piano: " + chords}, "", 11, "duet.xml: learned: Trombone; left out as accompaniment: Piano; learn --part chooses another\n"},
		{[]string{"Trombone: " + scale, "Piano: " + chords}, "--part 2", 15, ""},
		{[]string{"Trombone: " + scale, "Piano: " + chords}, "--part trom", 11, ""},
		{[]string{"Horn 1: " + scale, "Horn 2: " + chords}, "", 26, "duet.xml: learned: Horn 1 and Horn 2; learn --part chooses one\n"},
		{[]string{"Piano: " + scale, "Organ: " + chords}, "", 26, "duet.xml: learned: Piano and Organ; learn --part chooses one\n"},
		{[]string{"Piano: " + scale}, "", 11, ""},
	} {
		s := newStage(t)
		writeParts(t, "duet.xml", c.parts...)
		code, out, said := s.run(strings.Fields("learn --json duet.xml " + c.flags)...)
		var l learned
		if err := json.Unmarshal([]byte(out), &l); err != nil || code != exitFine {
			t.Fatalf("%.12q %s: exit code %d, %v, %s", c.parts, c.flags, code, err, said)
		}
		if l.Total != c.notes || said != c.said {
			t.Errorf("%.12q %s: %d notes learned, want %d; said %q, want %q", c.parts, c.flags, l.Total, c.notes, said, c.said)
		}
	}
}

// What the file gives of the figures, a read asks of it too.
func TestFiguresOfParts(t *testing.T) {
	s := newStage(t)
	writeParts(t, "duet.xml", "Trombone: "+scale, "Piano: "+chords)
	fine(t, s, "learn duet.xml --part Trombone --save solo")
	fine(t, s, "write --figures solo --rung 5 --seed 3")
	if _, again, _ := s.run(strings.Fields("write --figures duet.xml --rung 5 --seed 3 --out again")...); !strings.Contains(again, "a repeat of your read") {
		t.Errorf("the file's figures are not those of its one player:\n%s", again)
	}
}

func TestLearnPartsRefused(t *testing.T) {
	s := newStage(t)
	writeParts(t, "duet.xml", "Trombone 1: "+scale, "Trombone 2: "+chords)
	fine(t, s, "write --rung 1 --seed 1 --form snippet")
	for args, want := range map[string]string{
		"learn duet.xml --part Tuba":     "--part Tuba: duet.xml has no one part of this number or name:\n  1   Trombone 1\n  2   Trombone 2\n",
		"learn duet.xml --part trombone": "no one part of this number or name",
		"learn march-r1-1.mid --part 1":  "--part 1: it is for MusicXML files, and none was given; --track chooses",
		"learn duet.xml --track 1":       "--track 1: it is for MIDI files, and none was given; --part chooses",
	} {
		if code, out, err := s.run(strings.Fields(args)...); code != exitRequest || out != "" || !strings.Contains(err, want) {
			t.Errorf("%s: exit code %d, %q, %q, want %q", args, code, out, err, want)
		}
	}
}

// A kind of warning takes one line of a file, with what it is about.
func TestFoldedWarnings(t *testing.T) {
	w := func(part, measure string, times int, text string) musicxml.Warning {
		return musicxml.Warning{File: "a.xml", Part: part, Measure: measure, Times: times, Text: text}
	}
	got := folded([]musicxml.Warning{
		w("Horn", "3", 2, "chords: the top note was taken"), w("Horn", "4", 1, "pedal was left out"), w("Horn", "5", 1, "dynamic ppp was read as pp"),
		w("Tuba", "1", 5, "chords: the top note was taken"), w("Tuba", "2", 3, "octave-shift was left out"), w("Tuba", "6", 1, "dynamic fff was read as ff"),
		w("Tuba", "7", 1, "dynamic fff was read as ff"), w("", "", 1, "a text of more than 9 bytes was cut"), w("Tuba", "8", 1, "irregular: the measure is only 2 quarters long"),
	})
	want := []string{
		"a.xml: Horn, measure 3: chords: the top note was taken, and in Tuba (7 times)",
		"a.xml: Horn, measure 4: left out: pedal and octave-shift, and in Tuba (4 times)",
		"a.xml: Horn, measure 5: dynamic read otherwise: ppp as pp and fff as ff, and in Tuba (3 times)",
		"a.xml: a text of more than 9 bytes was cut",
		"a.xml: Tuba, measure 8: irregular: the measure is only 2 quarters long",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}
