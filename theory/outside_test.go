package theory

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// A question is put to the library tonal, version 6.4.3, which shares no code with
// this package.
type question struct {
	Ask  string   `json:"ask"`
	Args []string `json:"args"`
	want string   // this package's answer
}

// outsideModules reports the node_modules folder that holds tonal; it skips the test
// where there is none, or fails it if ONWARD_OUTSIDE is 1.
func outsideModules(t *testing.T) string {
	t.Helper()
	var places []string
	if dir := os.Getenv("ONWARD_NODE_MODULES"); dir != "" {
		places = append(places, dir)
	}
	for up := ".."; len(up) < len("../../../../.."); up = filepath.Join(up, "..") {
		places = append(places, filepath.Join(up, "testdata", "outside", "node_modules"), filepath.Join(up, "node_modules"))
	}
	_, err := exec.LookPath("node")
	for _, dir := range places {
		if _, missing := os.Stat(filepath.Join(dir, "tonal")); err == nil && missing == nil {
			full, err := filepath.Abs(dir)
			if err != nil {
				t.Fatal(err)
			}
			return full
		}
	}
	const how = "needs node and tonal: npm ci --prefix testdata/outside"
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(how)
	}
	t.Skip(how)
	return ""
}

// compareWithTonal puts all questions in one run of node.
func compareWithTonal(t *testing.T, questions []question) {
	t.Helper()
	dir := outsideModules(t)
	text, err := json.Marshal(questions)
	if err != nil {
		t.Fatal(err)
	}
	run := exec.Command("node", filepath.Join("..", "testdata", "outside", "tonal.mjs"))
	run.Env = append(os.Environ(), "ONWARD_NODE_MODULES="+dir)
	run.Stdin = bytes.NewReader(text)
	var faults bytes.Buffer
	run.Stderr = &faults
	out, err := run.Output()
	if err != nil {
		t.Fatalf("tonal.mjs: %v\n%s", err, faults.String())
	}
	var answers []string
	if err := json.Unmarshal(out, &answers); err != nil {
		t.Fatal(err)
	}
	if len(answers) != len(questions) || len(questions) == 0 {
		t.Fatalf("%d answers to %d questions", len(answers), len(questions))
	}
	for i, q := range questions {
		if answers[i] != q.want {
			t.Errorf("%s %s: we say %q, tonal %q", q.Ask, strings.Join(q.Args, " "), q.want, answers[i])
		}
	}
	t.Logf("%d answers agree with tonal", len(questions))
}

func allKeys() []Key {
	var keys []Key
	for fifths := -7; fifths <= 7; fifths++ {
		keys = append(keys, Key{fifths, Major}, Key{fifths, Minor})
	}
	return keys
}

func classText(classes []Class) string {
	var words []string
	for _, c := range classes {
		words = append(words, c.String())
	}
	return strings.Join(words, " ")
}

func scaleOf(degree func(int) Class) string {
	var scale []Class
	for n := 1; n <= 7; n++ {
		scale = append(scale, degree(n))
	}
	return classText(scale)
}

func TestScalesAndSignaturesAgreeWithTonal(t *testing.T) {
	var qs []question
	for _, k := range allKeys() {
		tonic := k.Tonic().String()
		signature := strings.Repeat("#", max(k.Fifths, 0)) + strings.Repeat("b", max(-k.Fifths, 0))
		if k.Mode == Major {
			qs = append(qs,
				question{"scale", []string{tonic + " major"}, scaleOf(k.Degree)},
				question{"majorSignature", []string{tonic}, signature})
			continue
		}
		qs = append(qs,
			question{"scale", []string{tonic + " aeolian"}, scaleOf(k.Degree)},
			question{"scale", []string{tonic + " harmonic minor"}, scaleOf(k.Harmonic)},
			question{"scale", []string{tonic + " melodic minor"}, scaleOf(k.Melodic)},
			question{"minorSignature", []string{tonic}, signature})
	}
	compareWithTonal(t, qs)
}

func TestChordsAgreeWithTonal(t *testing.T) {
	var qs []question
	for q := MajorTriad; q <= MajorSeventhChord; q++ {
		for letter := C; letter <= B; letter++ {
			for alter := -1; alter <= 1; alter++ {
				c := Chord{Class{letter, alter}, q}
				symbol := c.String()
				if q == MajorTriad {
					symbol += "M" // a bare letter is a note to tonal
				}
				qs = append(qs, question{"chord", []string{symbol}, classText(c.Tones())})
			}
		}
	}
	for _, k := range allKeys() {
		tonic := k.Tonic().String()
		if k.Mode == Minor {
			qs = append(qs, question{"dominantOfMinor", []string{tonic}, k.DominantSeventh().String()})
			continue
		}
		var triads []string
		for n := 1; n <= 7; n++ {
			triads = append(triads, k.Triad(n).String())
		}
		qs = append(qs,
			question{"majorTriads", []string{tonic}, strings.Join(triads, " ")},
			question{"dominantOfMajor", []string{tonic}, k.DominantSeventh().String()})
	}
	compareWithTonal(t, qs)
}

func TestTranspositionAgreesWithTonal(t *testing.T) {
	intervals := map[string]Interval{
		"1P": Unison, "2m": MinorSecond, "2M": MajorSecond, "3m": MinorThird, "3M": MajorThird, "4P": Fourth,
		"5P": Fifth, "6M": MajorSixth, "7m": MinorSeventh, "8P": Octave,
		"1A": {0, 1}, "4A": {3, 6}, "5d": {4, 6}, "5A": {4, 8}, "6m": {5, 8}, "7d": {6, 9}, "7M": {6, 11},
		"9M": {8, 14}, "10m": {9, 15}, "13M": {12, 21}, "16M": {15, 26},
	}
	var qs []question
	for octave := -1; octave <= 9; octave++ {
		for letter := C; letter <= B; letter++ {
			for alter := -2; alter <= 2; alter++ {
				p := Pitch{letter, alter, octave}
				if p.MIDI() >= 0 && p.MIDI() <= 127 {
					qs = append(qs, question{"midi", []string{p.String()}, strconv.Itoa(p.MIDI())})
				}
				for name, i := range intervals {
					qs = append(qs,
						question{"transpose", []string{p.String(), name}, p.Transpose(i).String()},
						question{"transpose", []string{p.String(), "-" + name}, p.Transpose(i.Neg()).String()})
				}
			}
		}
	}
	compareWithTonal(t, qs)
}
