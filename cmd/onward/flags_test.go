package main

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"onward/compose"
	"onward/midi/band"

	"github.com/spf13/cobra"
)

// usual are the options of a verb without flags.
func usual(out string, change func(*requestOptions)) requestOptions {
	o := requestOptions{Style: "march", Rung: 3, Count: 1, Out: out, Sound: "auto", usualOut: out}
	if change != nil {
		change(&o)
	}
	return o
}

func TestWriteFlags(t *testing.T) {
	for _, c := range []struct {
		args string
		want requestOptions
	}{
		{"", usual(".", nil)},
		{"--style lyrical --rung 7 --instrument trumpet", usual(".", func(o *requestOptions) {
			o.Style, o.Rung, o.Instrument = "lyrical", 7, "trumpet"
		})},
		{"--key Bb --meter 6/8 --form strain --tempo 108", usual(".", func(o *requestOptions) {
			o.Key, o.Meter, o.Form, o.Tempo = "Bb", "6/8", "strain", 108
		})},
		{"--measures 16 --count 3 --out pages", usual(".", func(o *requestOptions) {
			o.Measures, o.Count, o.Out = 16, 3, "pages"
		})},
		{"--seed 0", usual(".", func(o *requestOptions) { o.Seeded = true })},
		{"--seed 18446744073709551614", usual(".", func(o *requestOptions) { o.Seed, o.Seeded = 18446744073709551614, true })},
		{"--figures a.musicxml --figures warm-up", usual(".", func(o *requestOptions) {
			o.Figures = []string{"a.musicxml", "warm-up"}
		})},
		{"--guide --wav --json --click --sound builtin", usual(".", func(o *requestOptions) {
			o.Guide, o.WAV, o.JSON, o.Click, o.Sound = true, true, true, click(band.EveryBeat), "builtin"
		})},
		{"--slower 80% --click=off-beats --count-in 0 --no-tonic --rubato", usual(".", func(o *requestOptions) {
			o.takeOptions = takeOptions{Slower: 80, Click: click(band.OffBeats), CountIn: counted{0, true}, NoTonic: true, Rubato: true}
		})},
		{"--pdf --svg --paper letter", usual(".", func(o *requestOptions) {
			o.printOptions = printOptions{PDF: true, SVG: true, Paper: "letter"}
		})},
		{"--drop-out --company", usual(".", func(o *requestOptions) {
			o.pressureOptions = pressureOptions{DropOut: true, Company: company(band.Thirds)}
		})},
		{"--company=counter", usual(".", func(o *requestOptions) { o.Company = company(band.Counter) })},
		{"--company=thirds --drop-out=false", usual(".", func(o *requestOptions) { o.Company = company(band.Thirds) })},
		{"--company=off", usual(".", nil)},
		{"--coverage 80% --traps 0 --new 2", usual(".", func(o *requestOptions) {
			share, none, two := 0.8, 0, 2
			o.Aims = compose.Aims{Coverage: &share, Traps: &none, New: &two}
		})},
		{"--slower 65 --click=on --count-in 3", usual(".", func(o *requestOptions) {
			o.takeOptions = takeOptions{Slower: 65, Click: click(band.EveryBeat), CountIn: counted{3, true}}
		})},
	} {
		var got *requestOptions
		path := ""
		cmd := newWrite(&env{}, &path, func(o *requestOptions) error { got = o; return nil })
		execute(t, cmd, c.args)
		if got == nil || !reflect.DeepEqual(*got, c.want) {
			t.Errorf("write %s:\n got %+v\nwant %+v", c.args, got, c.want)
		}
	}
}

func TestReadFlags(t *testing.T) {
	for _, c := range []struct {
		args string
		want readOptions
	}{
		{"", readOptions{requestOptions: usual("reads", nil), LookOver: 30 * time.Second}},
		{"--look-over 0 --port Piano --latency 0", readOptions{requestOptions: usual("reads", nil), Port: "Piano", latencyOption: latencyOption{Given: true}}},
		{"--piece march.mxl --part Tuba", readOptions{requestOptions: usual("reads", nil), LookOver: 30 * time.Second, pieceOptions: pieceOptions{Piece: "march.mxl", Part: "Tuba"}}},
		{"--cold --drop-out", readOptions{requestOptions: usual("reads", func(o *requestOptions) { o.Cold, o.DropOut = true, true })}},
		{"--cold --look-over 0 --panel", readOptions{requestOptions: usual("reads", func(o *requestOptions) { o.Cold, o.Panel = true, true })}},
		{"--panel --company=counter", readOptions{requestOptions: usual("reads", func(o *requestOptions) {
			o.Panel, o.Company = true, company(band.Counter)
		}), LookOver: 30 * time.Second}},
		{"--panel --look-over 10s", readOptions{requestOptions: usual("reads", func(o *requestOptions) { o.Panel = true }), LookOver: 10 * time.Second}},
		{"--look-over 1m30s --sound off --out .", readOptions{requestOptions: usual("reads", func(o *requestOptions) {
			o.Sound, o.Out = "off", "."
		}), LookOver: 90 * time.Second}},
	} {
		var got *readOptions
		path := ""
		cmd := newRead(&env{}, &path, func(o *readOptions) error { got = o; return nil })
		execute(t, cmd, c.args)
		if got == nil || !reflect.DeepEqual(*got, c.want) {
			t.Errorf("read %s:\n got %+v\nwant %+v", c.args, got, c.want)
		}
	}
}

func TestLearnFlags(t *testing.T) {
	var got *learnOptions
	path := "j.db"
	cmd := newLearn(&env{}, &path, func(o *learnOptions) error { got = o; return nil })
	execute(t, cmd, "a.xml b.mxl --save warm-up --json")
	want := learnOptions{Files: []string{"a.xml", "b.mxl"}, Save: "warm-up", JSON: true, Journal: "j.db"}
	if got == nil || !reflect.DeepEqual(*got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func execute(t *testing.T, cmd *cobra.Command, args string) {
	t.Helper()
	cmd.SetArgs(strings.Fields(args))
	if err := cmd.Execute(); err != nil {
		t.Errorf("%s %s: %v", cmd.Name(), args, err)
	}
}

// What is refused is refused before anything is written, with exit code 2 and what to do.
func TestRefusals(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"frob", `unknown command "frob"`},
		{"write --frob", "unknown flag: --frob"},
		{"write now", "unknown command"},
		{"write --rung 0", "--rung 0: write 1 to 12"},
		{"write --rung 13", "rung 13: the ladder has rungs 1 to 12"},
		{"write --style dirge", "`onward styles` lists them"},
		{"write --style ./dirge.toml", "style sheet ./dirge.toml: no such file"},
		{"write --instrument trumpt", "try trumpet"},
		{"write --key H", "letter H is not A to G"},
		{"write --meter 7/7", "write it as 2/4"},
		{"write --form opera", "the style march has snippet"},
		{"write --form strain --measures 8", "choose one"},
		{"write --measures 0", "write 4 to 64"},
		{"write --measures 3", "4 to 64"},
		{"write --tempo 0", "30 to 240"},
		{"write --tempo 600", "30 to 240"},
		{"write --count 0", "--count 0: write 1 to 10000"}, {"read --count 10001", "--count 10001: write 1 to 10000"},
		{"write --count 1000000000000", "write 1 to 10000"},
		{"write --seed -1", "write a whole number"},
		{"write --seed 18446744073709551615", "write a smaller one"},
		{"write --figures nobody", "no vocabulary is saved yet"},
		{"write --figures no.musicxml", "exercises no.musicxml: no such file"},
		{"write --figures .", "no file in this folder ends in .musicxml"},
		{"write --figures no.toml", "vocabulary no.toml: no such file"},
		{"write --slower 20%", "25% to 100%"},
		{"write --slower 101%", "25% to 100%"},
		{"write --slower fast", "25% to 100%"},
		{"write --click=loud", "--click=off-beats"},
		{"write --count-in 9", "0 to 8 measures"},
		{"write --rubato", "a march has drums and keeps strict time"},
		{"read --rubato --style march", "choose a style without drums"},
		{"write --wav --sound off", "a WAV needs a sound"},
		{"write --wav --sound no.sf2", "no such file"},
		{"write --pdf --paper a5", "write a4 or letter"},
		{"write --paper a4", "it is for --pdf and --svg"},
		{"read --pdf", "unknown flag: --pdf"},
		{"warmup --pdf", "--pdf is of the page: add --written"},
		{"survey x.musicxml --svg", "--svg: it is for what --prepare writes"},
		{"write --journal .", "--journal FILE"},
		{"write --out journal.db/here", "folder journal.db/here"},
		{"read --look-over -1s", "write 30s, or 0"},
		{"read --cold --look-over 20s", "--cold and --look-over 20s: choose one"},
		{"read --company=tutti", "--company=counter"},
		{"read --measures 4 --drop-out", "--drop-out: this read has 4 measures"},
		{"write --measures 6 --drop-out", "ask for 8 or more"},
		{"write --cold", "unknown flag: --cold"},
		{"read --piece x.musicxml --drop-out", "--drop-out with --piece"},
		{"read --piece x.musicxml --company", "--company with --piece"},
		{"read --piece x.musicxml --panel", "--panel with --piece"},
		{"read --look-over 30", "write seconds"},
		{"read --sound loud", "write auto, builtin, off"},
		{"learn", "give one or more MusicXML or MIDI files"},
		{"learn no.musicxml", "exercises no.musicxml: no such file"},
		{"styles now", "unknown command"},
	} {
		s := newStage(t)
		code, out, err := s.run(strings.Fields(c.args)...)
		if code != exitRequest || !strings.Contains(err, c.want) || !strings.HasPrefix(err, "onward: ") || out != "" {
			t.Errorf("onward %s: exit code %d, printed %q and %q, want code 2 and %q", c.args, code, out, err, c.want)
		}
		if found := pages(t, "."); len(found) > 0 || len(s.rolls) > 0 {
			t.Errorf("onward %s: wrote %v, played %d takes", c.args, found, len(s.rolls))
		}
	}
}
