package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"

	"github.com/spf13/cobra"
)

const (
	usualInstrument = "euphonium-tc" // for a player whose journal is empty
	usualRung       = 3
	usualStyle      = "march"
	usualSound      = "auto"
	mostReads       = 10_000    // at once; hand-set: years of practice
	seedsDrawn      = 1_000_000 // a seed that nobody gave is below, so that a person can type it
)

// requestOptions say what is asked of a read, and where its files go: the flags that
// write and read have in common.
type requestOptions struct {
	Style      string
	Rung       int
	Instrument string
	Key        string
	Meter      string
	Form       string
	Measures   int
	Tempo      int
	Seed       uint64
	Seeded     bool // --seed was given
	Count      int
	Figures    []string
	Wanted     []string // figures by figureName that are to come oftener
	Again      int64    // a read of the journal that is to be made as it was, 0 for none
	compose.Aims
	Out          string
	Guide        bool
	WAV          bool
	printOptions // of write alone
	takeOptions
	JSON    bool
	Sound   string // the sound font of a WAV, and of a take
	Journal string

	usualOut string // the folder where --out names none
}

// flags gives cmd the flags; out is the usual folder.
func (o *requestOptions) flags(cmd *cobra.Command, out string) {
	o.usualOut = out
	f := cmd.Flags()
	f.StringVar(&o.Style, "style", usualStyle, "`STYLE` of the read, or the path of your own style sheet (.toml)")
	f.IntVar(&o.Rung, "rung", usualRung, "rung `N` of the ladder, 1 to 12")
	f.StringVar(&o.Instrument, "instrument", "", "`ID` of your instrument (default: that of your last read, "+usualInstrument+" at first)")
	f.StringVar(&o.Key, "key", "", "concert `KEY`: Bb, \"G minor\" (default: drawn)")
	f.StringVar(&o.Meter, "meter", "", "`METER`: 2/4, 6/8, cut (default: drawn)")
	f.StringVar(&o.Form, "form", "", "`FORM`: snippet, strain, march, song (default snippet)")
	f.IntVar(&o.Measures, "measures", 0, "`N` measures, 4 to 64, instead of a form")
	f.IntVar(&o.Tempo, "tempo", 0, "`N` felt beats a minute (default: drawn)")
	f.Uint64Var(&o.Seed, "seed", 0, "`NUMBER` that makes this read again (default: drawn)")
	f.Int64Var(&o.Again, "again", 0, "make read `N` of your journal again as it was, see onward journal reads")
	f.IntVar(&o.Count, "count", 1, fmt.Sprintf("`N` reads, 1 to %d, with seeds that follow each other", mostReads))
	f.StringArrayVar(&o.Figures, "figures", nil,
		"`FILE` of drilled exercises (MusicXML) or of a vocabulary (.toml), or the name of a saved one; may be repeated")
	o.aimFlags(cmd)
	f.StringVar(&o.Out, "out", out, "`FOLDER` for the files; it is made where there is none")
	f.BoolVar(&o.Guide, "guide", false, "put your line into the MIDI file and the sound, too")
	f.BoolVar(&o.WAV, "wav", false, "write the sound, too, as a WAV file")
	f.BoolVar(&o.JSON, "json", false, "print the read's document in place of words")
	f.StringVar(&o.Sound, "sound", usualSound, "`SOUND`: auto, builtin, the path of a sound font (.sf2), or off")
	o.takeOptions.flags(cmd)
	o.rubatoFlag(cmd)
	completeRequest(cmd)
}

// check refuses flags that say nothing or do not go together.
func (o *requestOptions) check(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	o.Seeded = given("seed")
	if given("again") {
		for _, flag := range append([]string{"count", "instrument"}, makesRead...) {
			if flag != "again" && given(flag) {
				return askedf("--again %d and --%s: the read is made as it was; leave one of them out", o.Again, flag)
			}
		}
	}
	switch {
	case given("again") && o.Again < 1:
		return askedf("--again %d: write the number of a read, as onward journal reads lists them", o.Again)
	case o.Form != "" && given("measures"):
		return askedf("--form and --measures: choose one; --measures makes a form of its own")
	case o.Count < 1 || o.Count > mostReads:
		return askedf("--count %d: write 1 to %d", o.Count, mostReads)
	case given("tempo") && o.Tempo < 1:
		return askedf("--tempo %d: write felt beats a minute, 30 to 240", o.Tempo)
	case given("measures") && o.Measures < 1:
		return askedf("--measures %d: write 4 to 64", o.Measures)
	case given("rung") && o.Rung < 1:
		return askedf("--rung %d: write 1 to 12", o.Rung)
	case o.Seeded && o.Seed > math.MaxUint64-uint64(o.Count):
		return askedf("--seed %d: no room for %d reads above it; write a smaller one", o.Seed, o.Count)
	case given("sound") && !o.WAV && cmd.Name() == "write":
		return askedf("--sound %s: it is for the WAV file; add --wav, or leave it out", o.Sound)
	}
	return o.checkPaper(given)
}

// request settles the options but for figures and a seed that nobody gave. sheet is the text
// of a style of the player's own, nil for one of the program's.
func (o *requestOptions) request(ctx context.Context, j *journal.Journal) (compose.Request, []byte, error) {
	req := compose.Request{Rung: o.Rung, Form: o.Form, Measures: o.Measures, Tempo: o.Tempo, Seed: o.Seed, Aims: o.Aims}
	var sheet []byte
	var err error
	if req.Style, sheet, err = openStyle(ctx, o.Style); err != nil {
		return req, nil, err
	}
	if err := o.checkRubato(req.Style); err != nil {
		return req, nil, err
	}
	if req.Instrument, err = o.instrument(ctx, j); err != nil {
		return req, nil, err
	}
	if o.Key != "" {
		k, err := theory.ParseKey(o.Key)
		if err != nil {
			return req, nil, asked(err, "")
		}
		req.Key = &k
	}
	if o.Meter != "" {
		m, err := rhythm.ParseMeter(o.Meter)
		if err != nil {
			return req, nil, asked(err, "")
		}
		req.Meter = &m
	}
	return req, sheet, nil
}

// instrument finds the instrument asked for, else that of the player's last read; a printed
// piece is for any.
func (o *requestOptions) instrument(ctx context.Context, j *journal.Journal) (theory.Instrument, error) {
	if o.Instrument != "" {
		in, err := theory.InstrumentByID(o.Instrument)
		return in, asked(err, "`onward instruments` lists them")
	}
	last, had, err := j.LastRead(ctx)
	if err != nil {
		return theory.Instrument{}, err
	}
	if had {
		if in, err := theory.InstrumentByID(last.Instrument); err == nil {
			return in, nil
		}
	}
	return theory.InstrumentByID(usualInstrument)
}

// ownFile reports whether a style's or vocabulary's name is the path of a file.
func ownFile(name string) bool {
	return strings.ContainsAny(name, `/\`) || strings.HasSuffix(name, ".toml")
}

// openStyle reads the sheet that --style names. text is that of a sheet of the player's own,
// nil for one that the program carries.
func openStyle(ctx context.Context, name string) (sheet *styles.Sheet, text []byte, err error) {
	if !ownFile(name) {
		sheet, err = styles.Shipped(name)
		return sheet, nil, asked(err, "`onward styles` lists them; a sheet of your own is given by its path")
	}
	if text, err = userfile.Read(ctx, name, userfile.MaxSheet); err != nil {
		return nil, nil, unreadable("style sheet", name, err)
	}
	if sheet, err = styles.Parse(name, text); err != nil {
		return nil, nil, asked(err, "")
	}
	return sheet, text, nil
}

// sheetMark tells sheets of the player's own apart, whose names do not, by their text; it is
// "" for none.
func sheetMark(text []byte) string {
	if text == nil {
		return ""
	}
	return fmt.Sprintf(" sheet=%016x", digest(bytes.TrimSpace(text)))
}

// unwritable is the error of a file or folder that cannot be written.
func unwritable(what, name string, err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		err = path.Err
	case errors.As(err, &link):
		err = link.Err
	}
	return askedf("%s %s: %v: name a folder that you may write to, with room in it (--out)", what, name, err)
}

// unreadable is the error of a file of the player's that cannot be read.
func unreadable(what, name string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return askedf("%s %s: %v: give the path of a file that you may read", what, name, err)
}
