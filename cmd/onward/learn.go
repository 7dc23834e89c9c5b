package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose/figure"
	"onward/compose/ladder"

	"github.com/spf13/cobra"
)

// learnOptions say which exercises to learn from, and where to keep what they hold.
type learnOptions struct {
	Files   []string
	Save    string
	Track   string
	Part    string
	Names   []string // old=new, for shapes of the player's own
	JSON    bool
	Journal string
}

// newLearn makes the verb that finds the figures of drilled exercises. do is nil but in
// tests.
func newLearn(e *env, journal *string, do func(*learnOptions) error) *cobra.Command {
	var o learnOptions
	cmd := &cobra.Command{
		Use:   "learn FILE...",
		Short: "Find the figures that your exercises drill",
		Long: `Learn reads exercises (MusicXML: .musicxml, .xml, .mxl; MIDI: .mid) or whole folders of
them and prints what they drill: figures by name with how many notes each explains, keys,
meters, and how much of the exercises lies in figures. What recurs and is no figure of the
list becomes a shape of your own, "own 1" and so on, to which --name gives a better name.
Of a MIDI file the highest voice is learned, or the one of --track; of a MusicXML file all
parts but percussion and keyboards, or the one of --part. What cannot be read in a folder
is told and left out. --save keeps all under a name for --figures, with the
exercises' lines, so that no read copies them; a name that ends in .toml is a file, which
holds the figures alone.`,
		Example: `  onward learn exercise.musicxml
  onward learn scales.musicxml arpeggios.mid --save warm-up
  onward learn exercises --save daily --name "own 1=lip bend"
  onward read --figures warm-up`,
		Args: func(_ *cobra.Command, files []string) error {
			if len(files) == 0 {
				return fmt.Errorf("learn: give one or more MusicXML or MIDI files, or folders, as in onward learn exercise.musicxml")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, files []string) error {
			o.Files, o.Journal = files, *journal
			if o.Save == knownFigures {
				return askedf("--save %s: this name means all that you know: choose another", o.Save)
			}
			if do != nil {
				return do(&o)
			}
			return runLearn(cmd.Context(), e, &o)
		},
	}
	cmd.Flags().StringVar(&o.Save, "save", "", "keep the figures under this `NAME`, or in this file (.toml)")
	cmd.Flags().StringVar(&o.Track, "track", "", "learn this track of MIDI files, by `NUMBER` or name (default: the highest voice)")
	cmd.Flags().StringVar(&o.Part, "part", "", "learn this `PART` of MusicXML files, by number or name (default: all but percussion and keyboards)")
	cmd.Flags().StringArrayVar(&o.Names, "name", nil, "name a shape of your own, as in `\"own 1=lip bend\"`; may be given again")
	cmd.Flags().BoolVar(&o.JSON, "json", false, "print what was found as JSON")
	cmd.ValidArgsFunction = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return []string{"musicxml", "xml", "mxl", "mid", "midi"}, cobra.ShellCompDirectiveFilterFileExt
	}
	return cmd
}

// A learned is what learn found, as --json prints it.
type learned struct {
	Files    []string `json:"files"`
	Saved    string   `json:"saved,omitempty"`
	Coverage float64  `json:"coverage"` // 0 to 1: the share of the notes that lie in figures
	// ByNote and ByFigure are how long the exercises are in bits, see figure.Lesson.
	ByNote   float64 `json:"bits_by_note"`
	ByFigure float64 `json:"bits_by_figure"`
	figure.Vocabulary
	Keys []learnedKey `json:"keys"` // written keys
}

// A learnedKey is a key by name, and how many measures stand in it.
type learnedKey struct {
	Key      string `json:"key"`
	Measures int    `json:"measures"`
}

func newLearned(o *learnOptions, found *figure.Lesson) learned {
	v := found.Vocabulary
	l := learned{Files: o.Files, Saved: o.Save, ByNote: found.ByNote, ByFigure: found.ByFigure, Vocabulary: v, Keys: []learnedKey{}}
	if v.Total > 0 {
		l.Coverage = float64(v.Explained) / float64(v.Total)
	}
	for _, k := range v.Keys {
		l.Keys = append(l.Keys, learnedKey{k.Key.String(), k.Measures})
	}
	return l
}

// runLearn learns the files, keeps what they hold, and says what that is.
func runLearn(ctx context.Context, e *env, o *learnOptions) (err error) {
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		return err
	}
	names, err := o.names()
	if err != nil {
		return err
	}
	reader := drillReader{ctx: ctx, catalogue: figure.Default(), back: longestRun(rungs) - 1, warn: e.err, now: e.now, track: o.Track, choice: o.Part}
	var all drilled
	for _, name := range o.Files {
		one, err := reader.exercises(name)
		if err != nil {
			return err
		}
		all.add(one)
	}
	if err := reader.checkChoice(); err != nil {
		return err
	}
	if o.inJournal() {
		if reader.journal, err = e.openJournal(ctx, o.Journal); err != nil {
			return err
		}
		defer func() {
			if shut := reader.journal.Close(); err == nil {
				err = shut
			}
		}()
		if err := reader.knowOwn(); err != nil {
			return err
		}
	}
	reader.learn(&all)
	if all.lesson, err = all.lesson.Rename(figure.Default(), names); err != nil {
		return asked(fmt.Errorf("--name: %w", err), "")
	}
	if err := o.keep(ctx, reader.journal, &all); err != nil {
		return err
	}
	if o.JSON {
		return writeJSON(e.out, newLearned(o, &all.lesson))
	}
	if err := all.lesson.WriteReport(e.out); err != nil {
		return err
	}
	if o.Save != "" {
		fmt.Fprintf(e.out, "\nsaved: onward read --figures %s\n", quote(o.Save))
	}
	return nil
}

// inJournal reports whether what is learned is to be saved in the journal.
func (o *learnOptions) inJournal() bool { return o.Save != "" && !strings.HasSuffix(o.Save, ".toml") }

// names reads the names of --name, old name to new.
func (o *learnOptions) names() (map[string]string, error) {
	names := map[string]string{}
	for _, n := range o.Names {
		old, name, found := strings.Cut(n, "=")
		if !found || strings.TrimSpace(name) == "" {
			return nil, askedf(`--name %q: write the old name and the new one, as in "own 1=lip bend"`, n)
		}
		names[strings.TrimSpace(old)] = strings.TrimSpace(name)
	}
	return names, nil
}

// knowOwn makes the shapes of the player's own that were saved before known by their names.
func (r *drillReader) knowOwn() error {
	saved, err := r.journal.Vocabularies(r.ctx)
	if err != nil {
		return err
	}
	var all figure.Vocabulary
	for _, v := range saved {
		one, err := r.catalogue.ReadVocabulary(bytes.NewReader(v.Sheet), "vocabulary "+v.Name)
		if err != nil {
			return asked(err, "learn it again: onward learn FILE --save "+v.Name)
		}
		all = all.Merge(one)
	}
	r.catalogue, err = r.catalogue.With(all.Own)
	return asked(err, "")
}

// keep saves what was learned, if that is asked for.
func (o *learnOptions) keep(ctx context.Context, j *journal.Journal, all *drilled) error {
	if o.Save == "" {
		return nil
	}
	var sheet bytes.Buffer
	if err := figure.WriteVocabulary(&sheet, all.lesson.Vocabulary); err != nil {
		return err
	}
	if !o.inJournal() {
		return saveFile(o.Save, sheet.Bytes())
	}
	met, err := metInLesson(&all.lesson)
	if err != nil {
		return err
	}
	if err := j.SaveVocabulary(ctx, journal.Vocabulary{Name: o.Save, Sheet: sheet.Bytes(), Drills: all.drills}); err != nil {
		return err
	}
	return j.KeepLesson(ctx, time.Time{}, met)
}

// saveFile writes a file whole or not at all.
func saveFile(name string, text []byte) error {
	sweepDrafts(filepath.Dir(name))
	draft := draftOf(name)
	err := os.WriteFile(draft, text, 0o666)
	if err == nil {
		err = os.Rename(draft, name)
	}
	if err != nil {
		os.Remove(draft)
		return unwritable("file", name, err)
	}
	return nil
}
