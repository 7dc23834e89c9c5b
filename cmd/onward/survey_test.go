package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/theory"
)

// solo is a part with something of all that a survey tells: an upbeat, a repeat with two
// endings, a key that is not signed, grace notes, a trap, a long rest.
const solo = `part Trombone; sounds 0 0; tempo 4=96 Andante; key F; 4/4 bass pickup r:8 C3:8 |
	p F3:4 A3:4 C4:4 A3:4 | Bb3:4 G3:4 E3:4 C3:4 | F3:8 C4:8 F4:8 A4:8 F3:2 | {G3}A3:4 G3:4 F3:2 |
	D3:4 F#3:4 A3:4 C4:4 | Bb3:4 G3:4 F#3:4 A3:4 | G3:4 Bb3:4 D4:4 Bb3:4 | [1 G3:2. r:8 C3:8 ] :| [2 G3:1 ] || R | R |
	letter B; f F3:16 G3:16 A3:16 Bb3:16 C4:8 A3:8 F3:8 C4:4 A3:8 | F3:4 A3:4 C4:4 F#3:4 | F3:2. r:4 |]`

// surveyStage is a stage with the solo in a file, and the duet.
func surveyStage(t *testing.T) *stage {
	t.Helper()
	s := pieceStage(t)
	f, err := os.Create("solo.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := musicxml.Write(f, &score.Score{Title: "Solo", Parts: []score.Part{score.MustText(solo)}}); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSurveyFlags(t *testing.T) {
	for _, c := range []struct {
		args string
		want surveyOptions
	}{
		{"a.xml", surveyOptions{pieceOptions: pieceOptions{Piece: "a.xml"}, Out: ".", Journal: "j.db"}},
		{"a.mxl --part Tuba --figures x.toml --figures y --instrument tuba-eb --rung 5 --json", surveyOptions{
			pieceOptions: pieceOptions{Piece: "a.mxl", Part: "Tuba"}, Figures: []string{"x.toml", "y"}, Instrument: "tuba-eb", Rung: 5, JSON: true, Out: ".", Journal: "j.db"}},
		{"a.mxl --prepare --out pages", surveyOptions{pieceOptions: pieceOptions{Piece: "a.mxl"}, Prepare: true, Out: "pages", Journal: "j.db"}},
	} {
		var got *surveyOptions
		path := "j.db"
		cmd := newSurvey(&env{}, &path, func(o *surveyOptions) error { got = o; return nil })
		execute(t, cmd, c.args)
		if got == nil || !reflect.DeepEqual(*got, c.want) {
			t.Errorf("survey %s:\n got %+v\nwant %+v", c.args, got, c.want)
		}
	}
}

// The head tells most in few lines, which a small terminal shows at once; the details follow.
func TestSurveyReport(t *testing.T) {
	s := surveyStage(t)
	out := fine(t, s, "survey solo.musicxml")
	inOrder(t, out, "Solo: part 1 of 1, Trombone\n", "for        Trombone\n", "rung       ", "figures    ", "figures of rung 1 and lower",
		"Look at these first:\n", "1 key      F major, 1 flat (B); 4/4, 4 beats of a quarter; Andante quarter = 96\n",
		"2 way      14 measures and an upbeat, 21 as played: ", "3 keys     G minor in 5 to ", "4 hardest  ", "5 traps    ",
		"load       load of each measure, 1 the lightest to 8 the heaviest", "measure    0",
		"More of it:\n", "clef       bass\n", "sections   ", "repeated with endings; ", "outside    ", "F-sharp in 5, 6",
		"grace      1 grace note in 4\n", "range      C3 (the upbeat, 2 and 8) to A4 (3); ", "rests      2 measures of rest from 10, in on beat 1 of 12 with F3\n",
		"What misleads:\n", "in 3       looks like a triad up to the octave, but is another: ", "in 9       the second time go on here")
	for n, line := range strings.Split(out, "\n") {
		if utf8.RuneCountInString(line) > lineWidth {
			t.Errorf("line %d is longer than %d: %s", n+1, lineWidth, line)
		}
	}
	head, _, _ := strings.Cut(out, "\nMore of it:")
	if n := strings.Count(head, "\n"); n > 24 {
		t.Errorf("the head has %d lines", n)
	}
	if regexp.MustCompile("[▁-█]").MatchString(out) {
		t.Error("blocks where there is no terminal")
	}
	s.terminal = true
	if out := fine(t, s, "survey solo.musicxml"); !regexp.MustCompile("(?m)^ {11}[▁-█ ]{15}$").MatchString(out) {
		t.Errorf("no picture of 15 blocks:\n%s", out)
	}
	wantFiles(t, ".", "duet.musicxml", "lone.xml", "page.xml", "solo.musicxml")
}

// Several measures share a column of the picture where they are many.
func TestSurveyPictureOfALongPart(t *testing.T) {
	s := surveyStage(t)
	part := score.MustText("key C; 4/4 treble C4:4 D4:4 E4:4 F4:4 " + strings.Repeat("| C4:4 D4:4 E4:4 F4:4 ", 148) + "| C4:8 D4:8 E4:8 F4:8 G4:8 F4:8 E4:8 D4:8 |]")
	f, err := os.Create("long.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	if err := musicxml.Write(f, &score.Score{Parts: []score.Part{part}}); err != nil {
		t.Fatal(err)
	}
	f.Close()
	out := fine(t, s, "survey long.musicxml")
	if want := "load of each 3 measures"; !strings.Contains(out, want) || !regexp.MustCompile("(?m)^ {11}1{49}8$").MatchString(out) {
		t.Errorf("want %q over 50 columns:\n%s", want, out)
	}
}

// The JSON has all of it by names that stay.
func TestSurveyDocument(t *testing.T) {
	s := surveyStage(t)
	var d map[string]any
	out := fine(t, s, "survey solo.musicxml --json --rung 4")
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"file", "title", "part", "number", "instrument", "reading", "clef", "key", "key_changes", "tonicised", "meters", "tempo", "words",
		"dynamics", "form", "range", "accidentals", "grace_notes", "densest", "heaviest", "rests", "traps", "vocabulary", "rung", "load", "left_out", "look", "drilled"} {
		if d[name] == nil {
			t.Errorf("%s is not there", name)
		}
	}
	if key := d["key"].(map[string]any); key["name"] != "F major" || key["signature"] != "1 flat" || key["fifths"] != -1.0 {
		t.Errorf("key %v", key)
	}
	if n := len(d["look"].([]any)); n != lookFirst {
		t.Errorf("%d things to look at", n)
	}
	if strings.Contains(out, "null") {
		t.Errorf("null where a list may be empty:\n%s", out)
	}
}

// What was learned and saved counts as known without being named.
func TestSurveyOfDrilledFigures(t *testing.T) {
	s := surveyStage(t)
	before := fine(t, s, "survey solo.musicxml --rung 1")
	if !strings.Contains(before, "Figures that are new to you, most frequent first:\n") {
		t.Errorf("nothing is new on rung 1:\n%s", before)
	}
	fine(t, s, "learn solo.musicxml --save solo")
	after := fine(t, s, "survey solo.musicxml")
	if !strings.Contains(after, "lie in figures that you drill\n") || strings.Contains(after, "new to you") {
		t.Errorf("what was drilled is new:\n%s", after)
	}
}

// A part is found by its name, taken for its instrument, and told apart from others.
func TestSurveyOfAPart(t *testing.T) {
	s := surveyStage(t)
	inOrder(t, fine(t, s, "survey duet.musicxml --part 1"), "Two by two: part 1 of 3, 1st Horn\n", "for        Horn in F\n", "sounding C major")
	inOrder(t, fine(t, s, "survey duet.musicxml --part 1 --instrument cornet"), "for        Cornet in B-flat; the part is written for another instrument: you\n           transpose\n")
}

func TestInstrumentOfAPart(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"1st Trombone", "key C; 4/4 bass C3:1 |]", "trombone"},
		{"Bass Trombone", "key C; 4/4 bass C3:1 |]", "trombone"},
		{"Euphonium", "key C; 4/4 bass C3:1 |]", "euphonium-bc"},
		{"Euphonium", "sounds -8 -14; key C; 4/4 treble C4:1 |]", "euphonium-tc"},
		{"Solo Cornet in Bb", "sounds -1 -2; key C; 4/4 treble C4:1 |]", "cornet"},
		{"Eb Alto Saxophone", "sounds -5 -9; key C; 4/4 treble C4:1 |]", "alto-sax"},
		{"Baritone Sax", "sounds -12 -21; key C; 4/4 treble C4:1 |]", "baritone-sax"},
		{"Baritone", "sounds -8 -14; key C; 4/4 treble C4:1 |]", "baritone-tc"},
		{"Flöte", "key C; 4/4 treble C5:1 |]", "flute"},
		{"Violin", "key C; 4/4 treble C5:1 |]", ""},
	} {
		part := score.MustText(c.text)
		in, ok := instrumentOf(&musicxml.PiecePart{Name: c.name, Line: &part})
		if in.ID != c.want || ok != (c.want != "") {
			t.Errorf("%s, %s: %q, want %q", c.name, c.text, in.ID, c.want)
		}
	}
}

func TestSurveyRefusals(t *testing.T) {
	s := surveyStage(t)
	for args, want := range map[string]string{
		"survey":                           "give one MusicXML file",
		"survey a.xml b.xml":               "give one MusicXML file",
		"survey nothing.xml":               "nothing.xml: no such file",
		"survey page.xml":                  "its root is <html>",
		"survey duet.musicxml":             "choose yours with --part",
		"survey duet.musicxml --part 9":    "no one part of this number",
		"survey solo.musicxml --rung 13":   "--rung 13: write 1 to 12",
		"survey solo.musicxml --out pages": "add --prepare",
		"survey solo.musicxml --figures x": `vocabulary "x"`,
		"survey solo.musicxml --instrument kazoo --prepare --out pages": `instrument "kazoo"`,
	} {
		code, _, err := s.run(strings.Fields(args)...)
		if code != exitRequest || !strings.Contains(err, want) {
			t.Errorf("%s: exit %d, %q; want %q", args, code, err, want)
		}
	}
	if _, err := os.Stat("pages"); err == nil {
		t.Error("a folder was made")
	}
}

// --prepare writes drills and two reads of the part's figures, which copy none of it and
// are made again by the command that is told; a later survey does not take them for known.
func TestSurveyPrepares(t *testing.T) {
	s := surveyStage(t)
	before := fine(t, s, "survey solo.musicxml --rung 5")
	out := fine(t, s, "survey solo.musicxml --rung 5 --prepare --out pages")
	names, err := filepath.Glob("pages/*.musicxml")
	if err != nil || len(names) != 1+readsPrepared {
		t.Fatalf("%v %v", names, err)
	}
	inOrder(t, out, "To prepare it:\n", "drills     "+filepath.Join("pages", "solo-part-1-drills.musicxml")+"\n", "onward read --style ", `--figures "prepare solo 1"`)
	part := score.MustText(solo)
	for _, name := range names {
		if strings.Contains(name, "drills") {
			continue
		}
		sharesNothing(t, &part, name, 9)
	}
	again := regexp.MustCompile(`onward read (.*) --figures "prepare solo 1" (.*) --seed (\d+)`).FindStringSubmatch(out)
	if again == nil {
		t.Fatalf("no command:\n%s", out)
	}
	args := append(append(strings.Fields("write "+again[1]), "--figures", "prepare solo 1"), strings.Fields(strings.ReplaceAll(again[2], "pages", "again")+" --seed "+again[3])...)
	if code, _, err := s.run(args...); code != exitFine {
		t.Fatalf("%v: exit %d: %s", args, code, err)
	}
	for _, name := range names {
		if strings.Contains(name, again[3]) && string(load(t, name)) != string(load(t, strings.Replace(name, "pages", "again", 1))) {
			t.Errorf("%s was made otherwise", name)
		}
	}
	if after := fine(t, s, "survey solo.musicxml --rung 5"); after != before {
		t.Errorf("after it the survey says\n%s\nbefore\n%s", after, before)
	}
	fine(t, s, "survey solo.musicxml --rung 5 --prepare --out pages --json")
	if again, _ := filepath.Glob("pages/*drills*.musicxml"); len(again) != 1 {
		t.Errorf("drills were not written over: %v", again)
	}
	drills, _, err := musicxml.Read(strings.NewReader(string(load(t, "pages/solo-part-1-drills.musicxml"))))
	if err != nil || drills.Title != "Drills for Solo" {
		t.Fatalf("%v %v", drills, err)
	}
	if err := score.Check(drills).Err(); err != nil {
		t.Error(err)
	}
	if v := figure.Default().Learn(&drills.Parts[0]); len(v.Figures) < 3 {
		t.Errorf("the drills hold %v", v.Figures)
	}
	if k, _, clef := drills.Parts[0].At(0); k.String() != "F major" || clef != theory.Bass {
		t.Errorf("the drills are in %v, %v clef", k, clef)
	}
}
