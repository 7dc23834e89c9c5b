package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"onward/cmd/internal/userfile"
	"onward/midi/synth"

	"github.com/spf13/cobra"
)

// newWrite makes the verb that writes reads. do is nil but in tests.
func newWrite(e *env, journal *string, do func(*requestOptions) error) *cobra.Command {
	var o requestOptions
	cmd := &cobra.Command{
		Use:   "write",
		Short: "Write a fresh read: the page, the band, and all that is known of them",
		Long: `Write makes a piece that you have never seen and writes NAME.musicxml (the page),
NAME.mid (the band), NAME.json (figures, chords, breaths and the rest, for other
programs) and, with --wav, NAME.wav; with --pdf the page engraved for your printer,
NAME.pdf. NAME is style, rung and seed: march-r3-12345.

The seed makes the same read again. A read that your journal has already is made
again as it was. Ctrl-C ends many reads (--count): those made are kept.`,
		Example: `  onward write --style march --rung 3
  onward write --figures exercise.musicxml --instrument trumpet --out pages
  onward write --style lyrical --key "G minor" --measures 16 --guide --wav
  onward write --style march --form march --rung 6 --pdf --paper letter
  onward write --count 20 --seed 1 --json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal = *journal
			if err := o.check(cmd); err != nil {
				return err
			}
			if do != nil {
				return do(&o)
			}
			return runWrite(cmd.Context(), e, &o)
		},
	}
	o.flags(cmd, ".")
	o.printFlags(cmd)
	return cmd
}

// runWrite makes the reads, writes their files, and says what they are.
func runWrite(ctx context.Context, e *env, o *requestOptions) (err error) {
	font, err := o.font(ctx)
	if err != nil {
		return err
	}
	paper, err := o.openPrinter(ctx, e)
	if err != nil {
		return err
	}
	if paper != nil {
		defer paper.Close()
	}
	s, err := openStudio(ctx, e, o)
	if err != nil {
		return err
	}
	defer func() {
		if shut := s.close(); err == nil {
			err = shut
		}
	}()
	b := &batch{studio: s, font: font, paper: paper, tellAt: e.clock() + tellEvery}
	if err = b.write(ctx); err == nil || b.written == 0 {
		return err
	}
	if ctx.Err() != nil {
		fmt.Fprintf(e.err, "%d of %d reads are written and kept; the others: --seed %d --count %d\n",
			b.written, o.Count, s.req.Seed+uint64(b.written), o.Count-b.written)
	}
	return fmt.Errorf("after %d of %d reads: %w", b.written, o.Count, err)
}

// font opens the sound font of the WAV files; nil where none are asked for.
func (o *requestOptions) font(ctx context.Context) (*synth.Font, error) {
	if !o.WAV {
		return nil, nil
	}
	if o.Sound == "off" {
		return nil, askedf("--wav with --sound off: a WAV needs a sound; write auto, builtin or a sound font")
	}
	font, err := openFont(ctx, o.Sound)
	return font, asked(err, "")
}

// openFont is synth.Open's font; see there.
func openFont(ctx context.Context, spec string) (*synth.Font, error) {
	return synth.Open(spec, func(path string) (synth.FontFile, error) { return userfile.Open(ctx, path, userfile.MaxFont) })
}

// A draft is what became of one read's files.
type draft struct {
	files *files
	err   error
}

// A batch is the reads of one invocation, which are made, kept and told some at a time: so
// many are lost at most where the program is killed, and so many are held in memory.
type batch struct {
	*studio
	font    *synth.Font // nil for no sound
	paper   printer     // nil where nothing is printed
	written int         // reads that are in the journal and in their places
	tellAt  time.Duration
}

const (
	readsAtOnce = 20              // of a batch, unless they are printed, which takes longer
	tellEvery   = 5 * time.Second // it is said how far a batch is
)

// write makes all reads. Those made before a failure, or before the player ends it, are kept.
func (b *batch) write(ctx context.Context) error {
	size := readsAtOnce
	if b.paper != nil {
		size = 1
	}
	tries := 0 // since a read was kept
	for b.written < b.o.Count {
		reads, drafts, failed := b.some(ctx, b.written, min(size, b.o.Count-b.written))
		if err := b.o.print(ctx, b.paper, drafts); err != nil {
			discard(drafts)
			return err
		}
		kept, err := b.deliver(context.WithoutCancel(ctx), reads, drafts)
		if err != nil {
			return err
		}
		b.written += kept
		for i, m := range reads[:kept] {
			if err := b.tell(b.e.out, m, drafts[i]); err != nil {
				return err
			}
		}
		if kept == len(reads) && failed != nil {
			return failed
		}
		if tries++; kept > 0 {
			tries = 0
		}
		if tries == keepTries {
			return errTouched
		}
	}
	return nil
}

// some composes n reads from the one of the index first on, one after the other since each
// keeps clear of those before it, and writes their drafts beside that. Those made before a
// failure are reported with it.
func (b *batch) some(ctx context.Context, first, n int) (reads []*made, drafts []*files, err error) {
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	results := make([]draft, n)
	var writing sync.WaitGroup
	for i := range n {
		var m *made
		if err = ctx.Err(); err == nil {
			m, err = b.compose(ctx, b.req.Seed+uint64(first+i))
		}
		if err != nil {
			break
		}
		reads = append(reads, m)
		slots <- struct{}{}
		writing.Go(func() {
			results[i] = b.draft(m, b.font)
			<-slots
		})
		b.progress(first + i + 1)
	}
	writing.Wait()
	for i, d := range results[:len(reads)] {
		if d.err != nil {
			for _, later := range results[i+1 : len(reads)] {
				if later.files != nil {
					later.files.discard()
				}
			}
			return reads[:i], drafts, d.err
		}
		drafts = append(drafts, d.files)
	}
	return reads, drafts, err
}

func (s *studio) draft(m *made, font *synth.Font) draft {
	t, err := s.o.arrange(m)
	if err != nil {
		return draft{err: err}
	}
	f, err := s.o.draft(m, t, font)
	return draft{f, err}
}

// progress says now and then how many reads are made.
func (b *batch) progress(done int) {
	if now := b.e.clock(); b.tellAt > 0 && now >= b.tellAt && done < b.o.Count {
		fmt.Fprintf(b.e.err, "%d of %d reads\n", done, b.o.Count)
		b.tellAt = now + tellEvery
	}
}

// deliver adds the reads to the journal and puts their files in place. What is in the
// journal and on no page harms nobody; a page that the journal does not know could
// come again. It reports how many reads are kept, from the first on; see keep.
func (s *studio) deliver(ctx context.Context, reads []*made, drafts []*files) (kept int, err error) {
	if kept, err = s.keep(ctx, reads); err != nil {
		discard(drafts)
		return 0, err
	}
	discard(drafts[kept:])
	for i, f := range drafts[:kept] {
		if err := f.place(); err != nil {
			discard(drafts[i:kept])
			return 0, err
		}
	}
	return kept, nil
}

// keepTries is how often a read is made that other programs' reads touch before the journal
// has it.
const keepTries = 20

// errTouched is the error of a read that cannot be kept for that.
var errTouched = askedf("other programs add reads to this journal that are too like this one, each time before it is kept: try again when they are done, or give another --seed")

// deliverOne makes a read and its files until the journal has it.
func (s *studio) deliverOne(ctx context.Context, write func() (*made, *files, error)) (*made, *files, error) {
	for range keepTries {
		m, draft, err := write()
		if err != nil {
			return nil, nil, err
		}
		if kept, err := s.deliver(ctx, []*made{m}, []*files{draft}); err != nil || kept > 0 {
			return m, draft, err
		}
	}
	return nil, nil, errTouched
}

func discard(drafts []*files) {
	for _, f := range drafts {
		f.discard()
	}
}

// tell says what was written: as a document, in a line of many, or in full.
func (s *studio) tell(w io.Writer, m *made, f *files) error {
	if s.o.JSON {
		return writeJSON(w, s.o.document(m))
	}
	if s.o.Count > 1 {
		_, err := fmt.Fprintf(w, "%-22s %s, %s, %s = %d\n", f.name, m.Title, m.Meter, beatWords(m.Meter), m.Tempo)
		return err
	}
	var b strings.Builder
	s.describe(&b, m)
	fmt.Fprintf(&b, "written    %s (%s)\n", f.path(pageSuffix), strings.Join(f.parts[1:], " "))
	fmt.Fprintf(&b, "again      %s\n", s.againCommand("write", m))
	_, err := io.WriteString(w, b.String())
	return err
}

// againCommand is the command of the verb that makes the read again; more is what the
// verb has of its own.
func (s *studio) againCommand(verb string, m *made, more ...string) string {
	o := s.o
	words := []string{"onward", verb, "--style", quote(o.Style), "--rung", fmt.Sprint(o.Rung), "--instrument", m.Request.Instrument.ID}
	add := func(flag, value string) {
		if value != "" {
			words = append(words, flag, quote(value))
		}
	}
	byJournal := m.id != 0 && (o.Again != 0 || len(o.Wanted) > 0 || slices.Contains(o.Figures, knownFigures))
	if byJournal { // what is known changes: only the journal has it as it was
		words = []string{"onward", verb, "--again", fmt.Sprint(m.id)}
	} else {
		add("--key", o.Key)
		add("--meter", o.Meter)
		add("--form", o.Form)
		add("--measures", number(o.Measures))
		add("--tempo", number(o.Tempo))
		for _, f := range o.Figures {
			add("--figures", f)
		}
		words = append(words, o.aimsAgain()...)
	}
	if o.Out != o.usualOut {
		add("--out", o.Out)
	}
	add("--journal", o.Journal)
	for i, given := range []bool{o.Guide, o.WAV} {
		if given {
			words = append(words, []string{"--guide", "--wav"}[i])
		}
	}
	words = append(words, o.printAgain()...)
	words = append(words, o.takeOptions.again()...)
	if o.Sound != usualSound {
		add("--sound", o.Sound)
	}
	words = append(words, more...)
	if !byJournal {
		words = append(words, "--seed", fmt.Sprint(m.Seed))
	}
	return strings.Join(words, " ")
}

// number writes n; 0 is nothing.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

// quote writes a word so that a shell takes it for one.
func quote(s string) string {
	if s != "" && !strings.ContainsAny(s, " \t\n'\"\\$&;|<>()*?[]#~`!{}") {
		return s
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "$", `\$`, "`", "\\`").Replace(s) + `"`
}
