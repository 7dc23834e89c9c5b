package main

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"

	"github.com/spf13/cobra"
)

// newJournalImport makes the verb that adds what another journal holds.
func newJournalImport(e *env, path *string) *cobra.Command {
	return &cobra.Command{
		Use:   "import FILE",
		Short: "Add what an exported journal holds; what is there already is not doubled",
		Long: `Import adds what onward journal export wrote; of a damaged file it adds nothing. What is
there already is not added again. Of two saved vocabularies of one name the later stays;
takes that are marked here keep their marks.`,
		Example: "  onward journal import my.jsonl",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runImport(cmd.Context(), e, args[0], *path)
		},
	}
}

func runImport(ctx context.Context, e *env, name, path string) (err error) {
	f, err := userfile.Open(ctx, name, userfile.MaxExport)
	if err != nil {
		return unreadable("file", name, err)
	}
	defer f.Close()
	j, err := e.openJournal(ctx, path)
	if err != nil {
		return err
	}
	defer func() {
		if shut := j.Close(); err == nil {
			err = shut
		}
	}()
	got, err := j.Import(ctx, name, f)
	var line *journal.LineError
	if errors.As(err, &line) {
		return asked(err, "nothing was imported")
	}
	if err != nil {
		return err
	}
	var b strings.Builder
	field(&b, "added", itemWords(got.Added))
	field(&b, "had", itemWords(got.Had))
	_, err = io.WriteString(e.out, b.String())
	return err
}

// itemWords says how many of what there are.
func itemWords(i journal.Items) string {
	var words []string
	for _, c := range []struct {
		n     int
		thing string
	}{
		{i.Players, "player"}, {i.Reads, "read"}, {i.Takes, "take"}, {i.Marks, "marked take"}, {i.Lessons, "lesson"}, {i.Warmups, "warm-up"},
		{i.Vocabularies, "saved name"}, {i.Latencies, "tapped device"}, {i.Proposals, "proposal"},
	} {
		if c.n > 0 {
			words = append(words, count(c.n, c.thing))
		}
	}
	if len(words) == 0 {
		return "nothing"
	}
	return strings.Join(words, ", ")
}

// writeWhole writes a file under another name and puts it in its place when all of it is
// there.
func writeWhole(path string, write func(io.Writer) error) error {
	sweepDrafts(filepath.Dir(path))
	f, err := os.CreateTemp(filepath.Split(draftOf(path) + "-*"))
	if err != nil {
		return cannotWrite(path, err)
	}
	err = write(f)
	for _, end := range []func() error{f.Sync, f.Close} {
		if done := end(); err == nil && done != nil {
			err = cannotWrite(path, done)
		}
	}
	if err == nil {
		if err = os.Rename(f.Name(), path); err != nil {
			err = cannotWrite(path, err)
		}
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// cannotWrite is the error of a named file that cannot be written.
func cannotWrite(path string, err error) error {
	var link *os.LinkError
	var at *os.PathError
	switch {
	case errors.As(err, &link):
		err = link.Err
	case errors.As(err, &at):
		err = at.Err
	}
	return askedf("file %s: %v: name a file that you may write, with room for it", path, err)
}
