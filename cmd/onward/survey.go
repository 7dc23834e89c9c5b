package main

import (
	"context"
	"io"
	"strings"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/compose/survey"
	"onward/theory"

	"github.com/spf13/cobra"
)

// surveyOptions say which part is looked over, and for whom.
type surveyOptions struct {
	pieceOptions
	Figures    []string
	Instrument string
	Rung       int
	Prepare    bool
	Out        string
	printOptions
	JSON    bool
	Journal string
}

// newSurvey makes the verb that looks a real part over. do is nil but in tests.
func newSurvey(e *env, journal *string, do func(*surveyOptions) error) *cobra.Command {
	var o surveyOptions
	cmd := &cobra.Command{
		Use:   "survey FILE",
		Short: "Look a printed part over before you play it: what is hard in it, and which of its figures are new",
		Long: `Survey reads a part (MusicXML: .musicxml, .xml, .mxl) as a good teacher looks it over:
first the five things to look at, then key, form, range, keys that are not signed, what
misleads in which measure, how much of it lies in figures that you drill, and its rung.
Known are the figures of --figures, else all that you saved, else those of lower rungs.

--prepare writes a page of drills of the figures that are new or hard, and two fresh
reads made of them, which copy no line of the part.`,
		Example: `  onward survey march.musicxml --part "1st Trombone"
  onward survey solo.musicxml --figures warm-up --rung 5
  onward survey solo.musicxml --prepare --out preparation`,
		Args: func(_ *cobra.Command, files []string) error {
			if len(files) != 1 {
				return askedf("survey: give one MusicXML file, as in onward survey march.musicxml")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, files []string) error {
			o.Piece, o.Journal = files[0], *journal
			if err := o.check(cmd); err != nil {
				return err
			}
			if do != nil {
				return do(&o)
			}
			return runSurvey(cmd.Context(), e, &o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Part, "part", "", "the `PART`, by number or name")
	f.StringArrayVar(&o.Figures, "figures", nil,
		"`FILE` of drilled exercises (MusicXML) or of a vocabulary (.toml), or the name of a saved one; may be repeated")
	f.StringVar(&o.Instrument, "instrument", "", "`ID` of your instrument (default: the part's, else that of your last read)")
	f.IntVar(&o.Rung, "rung", 0, "rung `N` that you read on, 1 to 12 (default: the part's)")
	f.BoolVar(&o.Prepare, "prepare", false, "write drills and reads of the figures that are new or hard")
	f.StringVar(&o.Out, "out", ".", "`FOLDER` for what --prepare writes; it is made where there is none")
	o.printFlags(cmd)
	f.BoolVar(&o.JSON, "json", false, "print all of it as JSON")
	cmd.ValidArgsFunction = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return []string{"musicxml", "xml", "mxl"}, cobra.ShellCompDirectiveFilterFileExt
	}
	completeSurvey(cmd)
	return cmd
}

func (o *surveyOptions) check(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	switch {
	case given("rung") && (o.Rung < 1 || o.Rung > 12):
		return askedf("--rung %d: write 1 to 12", o.Rung)
	case given("out") && !o.Prepare:
		return askedf("--out %s: it is for what --prepare writes; add --prepare, or leave it out", o.Out)
	case o.prints() && !o.Prepare:
		return askedf("%s: it is for what --prepare writes; add --prepare, or leave it out", o.flag())
	}
	return o.checkPaper(given)
}

// runSurvey looks the part over and says what there is to see.
func runSurvey(ctx context.Context, e *env, o *surveyOptions) error {
	p, err := o.openPiece(ctx)
	if err != nil {
		return err
	}
	l, err := o.lookOver(ctx, e, p)
	if err != nil {
		return err
	}
	var prepared *preparation
	if o.Prepare {
		if prepared, err = o.prepare(ctx, e, l); err != nil {
			return err
		}
	}
	if o.JSON {
		return writeJSON(e.out, l.document(prepared))
	}
	var b strings.Builder
	l.tell(&b, e.terminal)
	prepared.tell(&b)
	_, err = io.WriteString(e.out, b.String())
	return err
}

// A surveyed part is one that has been looked over, with what is said of it.
type surveyed struct {
	*survey.Survey
	piece      *printedPiece
	instrument theory.Instrument
	guessed    bool     // the instrument is the part's, nobody named it
	names      []string // of what was drilled
	vocabulary *figure.Vocabulary
	catalogue  *figure.Catalogue // with the player's own shapes
	lines      []compose.Line    // drilled
	run        int               // the longest run compared
}

// lookOver finds out for whom, and looks the part over.
func (o *surveyOptions) lookOver(ctx context.Context, e *env, p *printedPiece) (l *surveyed, err error) {
	j, err := e.openJournal(ctx, o.Journal)
	if err != nil {
		return nil, err
	}
	defer func() {
		if shut := j.Close(); err == nil {
			err = shut
		}
	}()
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		return nil, err
	}
	l = &surveyed{piece: p, names: o.Figures, run: longestRun(rungs)}
	if l.instrument, l.guessed, err = o.instrument(ctx, j, p.part()); err != nil {
		return nil, err
	}
	if len(l.names) == 0 {
		saved, err := j.Vocabularies(ctx)
		if err != nil {
			return nil, err
		}
		for _, v := range saved {
			if !strings.HasPrefix(v.Name, preparedName) {
				l.names = append(l.names, v.Name)
			}
		}
	}
	reader := drillReader{ctx: ctx, catalogue: catalogue, journal: j, back: l.run - 1, warn: e.err, now: e.now}
	known, err := reader.all(l.names)
	if err != nil {
		return nil, err
	}
	if known != nil {
		l.vocabulary, l.lines = &known.vocabulary, known.lines
		if catalogue, err = catalogue.With(known.vocabulary.Own); err != nil {
			return nil, asked(err, "")
		}
	}
	l.catalogue = catalogue
	l.Survey, err = survey.Of(p.Piece, p.index, survey.Options{
		Instrument: l.instrument, Catalogue: catalogue, Ladder: rungs, Vocabulary: l.vocabulary, Rung: o.Rung,
	})
	if err != nil {
		return nil, askedf("%s: %v", p.file, err)
	}
	l.Title = p.title
	return l, nil
}

// instrument is the one asked for, else the part's by its name, else that of the player's
// last read.
func (o *surveyOptions) instrument(ctx context.Context, j *journal.Journal, part *musicxml.PiecePart) (in theory.Instrument, guessed bool, err error) {
	if o.Instrument == "" && part.Line != nil {
		if in, ok := instrumentOf(part); ok {
			return in, true, nil
		}
	}
	in, err = (&requestOptions{Instrument: o.Instrument}).instrument(ctx, j)
	return in, false, err
}

// familyWords are words by which parts name their instruments, in several languages.
var familyWords = map[string][]string{
	"flute": {"flute", "flauto", "flöte"}, "clarinet": {"clarinet", "klarinette"}, "alto-sax": {"alto sax"}, "tenor-sax": {"tenor sax"},
	"baritone-sax": {"baritone sax", "bari sax"}, "cornet": {"cornet"}, "trumpet": {"trumpet", "trompete", "tromba"}, "horn": {"horn", "corno"},
	"trombone": {"trombone", "posaune"}, "baritone": {"baritone"}, "euphonium": {"euphonium"}, "tuba": {"tuba", "bass"},
}

// instrumentOf finds the instrument that a part names, of those that are written as it is.
func instrumentOf(part *musicxml.PiecePart) (theory.Instrument, bool) {
	name := strings.ToLower(part.Name)
	best, least := theory.Instrument{}, 3
	for _, in := range theory.Instruments() {
		named := false
		for family, words := range familyWords {
			if in.ID != family && !strings.HasPrefix(in.ID, family+"-") || family == "baritone" && in.ID == "baritone-sax" {
				continue
			}
			for _, w := range words {
				named = named || strings.Contains(name, w) && (family == "baritone-sax" || !strings.Contains(name, "sax") || strings.Contains(w, "sax"))
			}
		}
		if !named {
			continue
		}
		odd := 0 // how much the page is not as the instrument's
		if clef := part.Line.Measures[0].Clef; clef != nil && *clef != in.Clef {
			odd++
		}
		if part.Line.Sounds != in.Sounds {
			odd++
		}
		if odd < least {
			best, least = in, odd
		}
	}
	return best, least < 3
}
