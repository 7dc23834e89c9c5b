package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strings"

	"onward/cmd/internal/journal"
	"onward/compose/figure"
	"onward/compose/ladder"

	"github.com/spf13/cobra"
)

// learnOptions say which exercises to learn from, and where to keep what they hold.
type learnOptions struct {
	Files   []string
	Save    string
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
		Long: `Learn reads exercises (MusicXML: .musicxml, .xml, .mxl) and prints what they drill:
figures by name with how many notes each explains, keys, meters, and how much of the
exercises lies in figures. --save keeps that under a name for --figures, with the
exercises' lines, so that no read copies them; a name that ends in .toml is a file,
which holds the figures alone.`,
		Example: `  onward learn exercise.musicxml
  onward learn scales.musicxml arpeggios.mxl --save warm-up
  onward read --figures warm-up`,
		Args: func(_ *cobra.Command, files []string) error {
			if len(files) == 0 {
				return fmt.Errorf("learn: give one or more MusicXML files, as in onward learn exercise.musicxml")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, files []string) error {
			o.Files, o.Journal = files, *journal
			if o.Save == "" && cmd.Flags().Changed("save") {
				return askedf(`--save "": write a name, or a file that ends in .toml`)
			}
			if do != nil {
				return do(&o)
			}
			return runLearn(cmd.Context(), e, &o)
		},
	}
	cmd.Flags().StringVar(&o.Save, "save", "", "keep the figures under this `NAME`, or in this file (.toml)")
	cmd.Flags().BoolVar(&o.JSON, "json", false, "print what was found as JSON")
	cmd.ValidArgsFunction = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return []string{"musicxml", "xml", "mxl"}, cobra.ShellCompDirectiveFilterFileExt
	}
	return cmd
}

// A learned is what learn found, as --json prints it.
type learned struct {
	Files    []string `json:"files"`
	Saved    string   `json:"saved,omitempty"`
	Coverage float64  `json:"coverage"` // 0 to 1: the share of the notes that lie in figures
	figure.Vocabulary
	Keys []learnedKey `json:"keys"` // written keys
}

// A learnedKey is a key by name, and how many measures stand in it.
type learnedKey struct {
	Key      string `json:"key"`
	Measures int    `json:"measures"`
}

func newLearned(o *learnOptions, v figure.Vocabulary) learned {
	l := learned{Files: o.Files, Saved: o.Save, Vocabulary: v, Keys: []learnedKey{}}
	if v.Total > 0 {
		l.Coverage = float64(v.Explained) / float64(v.Total)
	}
	for _, k := range v.Keys {
		l.Keys = append(l.Keys, learnedKey{k.Key.String(), k.Measures})
	}
	return l
}

// runLearn learns the files, keeps what they hold, and says what that is.
func runLearn(ctx context.Context, e *env, o *learnOptions) error {
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		return err
	}
	reader := drillReader{ctx: ctx, catalogue: catalogue, back: longestRun(rungs) - 1, warn: e.err}
	var all drilled
	for _, name := range o.Files {
		one, err := reader.exercises(name)
		if err != nil {
			return err
		}
		all.vocabulary = all.vocabulary.Merge(one.vocabulary)
		all.drills = append(all.drills, one.drills...)
	}
	if err := o.keep(ctx, e, &all); err != nil {
		return err
	}
	if o.JSON {
		return writeJSON(e.out, newLearned(o, all.vocabulary))
	}
	if err := all.vocabulary.WriteReport(e.out); err != nil {
		return err
	}
	if o.Save != "" {
		fmt.Fprintf(e.out, "\nsaved: onward read --figures %s\n", quote(o.Save))
	}
	return nil
}

// keep saves what was learned, if that is asked for.
func (o *learnOptions) keep(ctx context.Context, e *env, all *drilled) (err error) {
	if o.Save == "" {
		return nil
	}
	var sheet bytes.Buffer
	if err := figure.WriteVocabulary(&sheet, all.vocabulary); err != nil {
		return err
	}
	if strings.HasSuffix(o.Save, ".toml") {
		return saveFile(o.Save, sheet.Bytes())
	}
	j, err := e.openJournal(ctx, o.Journal)
	if err != nil {
		return err
	}
	defer func() {
		if shut := j.Close(); err == nil {
			err = shut
		}
	}()
	return j.SaveVocabulary(ctx, journal.Vocabulary{Name: o.Save, Sheet: sheet.Bytes(), Drills: all.drills})
}

// saveFile writes a file whole or not at all.
func saveFile(name string, text []byte) error {
	draft := fmt.Sprintf("%s.%d", name, os.Getpid())
	if err := os.WriteFile(draft, text, 0o666); err != nil {
		return unwritable("file", name, err)
	}
	if err := os.Rename(draft, name); err != nil {
		os.Remove(draft)
		return unwritable("file", name, err)
	}
	return nil
}
