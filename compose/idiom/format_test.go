package idiom_test

import (
	"bytes"
	"os"
	"reflect"
	"strings"
	"testing"

	"onward/compose/idiom"
)

func TestShippedFilesReadAsWritten(t *testing.T) {
	for _, name := range []string{"march", "song"} {
		d, err := idiom.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := d.Write(&b); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(name + ".txt")
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), text) {
			t.Errorf("%s.txt is not what Write makes of it", name)
		}
		again, err := idiom.Read(&b, name)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(d, again) {
			t.Errorf("%s: what was written reads otherwise", name)
		}
	}
	if _, err := idiom.Shipped("polka"); err == nil {
		t.Error("there is an idiom of polkas")
	}
}

func BenchmarkRead(b *testing.B) {
	text, err := os.ReadFile("song.txt")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := idiom.Read(bytes.NewReader(text), "song"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkIntervalChances(b *testing.B) {
	d, err := idiom.Shipped("march")
	if err != nil {
		b.Fatal(err)
	}
	m := d.Meter("2/4")
	c := idiom.Context{Step: 4, Last: -1, Chord: idiom.V, Onset: 24, Place: 2, Measured: 48, Beat: 24, Held: 12, Ticks: 24}
	for b.Loop() {
		m.IntervalChances(&c)
	}
}

func TestReadSaysWhere(t *testing.T) {
	const good = "meter 2/4 48 24 2\nrhythm 0+24 24+24\n"
	for text, want := range map[string]string{
		"":                                       "x: there is no meter",
		"rhythm 0+24\n":                          "x:1: the first line",
		"meter 2/4 48 24\n":                      `x:1: classes "" is not a number`,
		good + "rhythm 0-24\n":                   `x:3: note "0-24" lacks its '+'`,
		good + "rhythm 48+24\n":                  `x:3: note "48+24" does not begin`,
		good + "form major 2 0 0 7 1 / / n.I\n":  `x:3: class "2" is not a number from 0 to 1`,
		good + "form major 1 0 0 7 1 / / s0.I\n": `x:3: measure "0" is not a number`,
		good + "form major 1 0 0 7 1 / / n.I s0:1.I\n":      `x:3: measure "s0:1.I"`,
		good + "form major 1 0 0 7 1 / / n.W\n":             `x:3: chord "W"`,
		good + "form major 1 0 0 7 1 / -12+12 /\n":          `x:3: the form has no measure`,
		good + "count 0 1 2:5\n":                            `x:3: rhythm 2 is not there`,
		good + "weight hope 0 1\n":                          `x:3: template "hope"`,
		good + "weight degree 7 1\n":                        `x:3: row "7" is not a number from 0 to 6`,
		good + "weight degree 0 1 2\n":                      `x:3: weight ""`,
		good + "alter dorian 0 0 0 1 2 3\n":                 `x:3: mode "dorian"`,
		good + "alter major 0 0 0 1 2 3 4\n":                `x:3: "4" is more than`,
		good + "tune c d e\n":                               `x:3: "tune" is not`,
		good + "count 0 1 0:5\ncount 0 1 0:5\n":             `x:4: context 1 stands after 1`,
		good + "form major 1 0 0 7 1 / / n.I s0.V=4 _.IV\n": "",
	} {
		_, err := idiom.Read(strings.NewReader(text), "x")
		if got := errorText(err); (want == "") != (err == nil) || !strings.HasPrefix(got, want) {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
