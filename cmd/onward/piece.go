package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/midi/band"
	"onward/midi/file"
	"onward/midi/live"
	"onward/midi/synth"
	"onward/midi/timeline"
	"onward/styles"

	"github.com/spf13/cobra"
)

// pieceOptions say which printed piece is played along to, in place of a fresh read.
type pieceOptions struct {
	Piece string // the path of a MusicXML file, "" for a fresh read
	Part  string // number or name

	styled bool // --style was given
	kept   bool // files are asked for
}

func (o *pieceOptions) pieceFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.Piece, "piece", "", "play along to this `FILE` (MusicXML) in place of a fresh read: its other parts are the band")
	cmd.Flags().StringVar(&o.Part, "part", "", "your `PART` of --piece, by number or name")
}

// notForPieces are the flags that make a fresh read, and with a printed piece say nothing.
var notForPieces = []string{"rung", "instrument", "key", "meter", "form", "measures", "seed", "count", "figures", "coverage", "traps", "new", "json", "rubato", "again", "drop-out", "company", "panel"}

// checkPiece refuses flags that do not go together with a piece, or without one.
func (o *readOptions) checkPiece(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	o.styled = given("style")
	switch {
	case o.Piece == "" && given("part"):
		return askedf("--part %s: it is for --piece FILE; a fresh read has one part", o.Part)
	case o.Piece == "":
		return nil
	}
	for _, flag := range notForPieces {
		if given(flag) {
			return askedf("--%s with --piece: it is for fresh reads; leave one of them out", flag)
		}
	}
	o.kept = given("out") || o.WAV
	if given("tempo") && (o.Tempo < 20 || o.Tempo > 300) {
		return askedf("--tempo %d: write 20 to 300 felt beats a minute", o.Tempo)
	}
	return nil
}

// A printedPiece is one that the player brings, with the part that is the player's.
type printedPiece struct {
	*musicxml.Piece
	file  string
	title string
	text  uint64 // the file's fingerprint
	index int    // of the player's part
}

func (p *printedPiece) part() *musicxml.PiecePart { return &p.Parts[p.index] }

// identity is what the journal and the files know the part by.
func (p *printedPiece) identity() string {
	return fmt.Sprintf("onward piece part=%d sum=%016x", p.index+1, p.text)
}

// openPiece reads the file and finds the part.
func (o *pieceOptions) openPiece(ctx context.Context) (*printedPiece, error) {
	text, err := userfile.Read(ctx, o.Piece, userfile.MaxScore)
	if err != nil {
		return nil, unreadable("piece", o.Piece, err)
	}
	p := &printedPiece{file: o.Piece, text: digest(text)}
	if p.Piece, err = musicxml.ReadPieceFile(o.Piece, bytes.NewReader(text), int64(len(text))); err != nil {
		return nil, asked(err, "")
	}
	if p.title = p.Title; p.title == "" {
		base := filepath.Base(o.Piece)
		p.title = strings.TrimSuffix(base, filepath.Ext(base))
	}
	if o.Part == "" && len(p.Parts) > 1 {
		return nil, askedf("%s has %d parts; choose yours with --part, by number or name:\n%s", o.Piece, len(p.Parts), p.list())
	}
	if o.Part != "" {
		var found bool
		if p.index, found = p.Part(o.Part); !found {
			return nil, askedf("--part %s: %s has no one part of this number or name; it has:\n%s", o.Part, o.Piece, p.list())
		}
	}
	if p.part().Sounding() == 0 {
		return nil, askedf("%s: part %d, %s: it has no notes to play", o.Piece, p.index+1, p.part().Name)
	}
	return p, nil
}

// list lists the parts by number and name.
func (p *printedPiece) list() string {
	var lines []string
	for i := range p.Parts {
		lines = append(lines, fmt.Sprintf("  %-3d %s", i+1, p.Parts[i].Name))
	}
	return strings.Join(lines, "\n")
}

// runPiece leads the player through a printed piece as through a read.
func runPiece(ctx context.Context, e *env, o *readOptions) (err error) {
	p, err := o.openPiece(ctx)
	if err != nil {
		return err
	}
	opts, err := o.accompaniment(ctx, p)
	if err != nil {
		return err
	}
	line, err := band.Accompany(p.Piece, p.index, opts)
	if err != nil {
		return asked(fmt.Errorf("%s: %w", o.Piece, err), "")
	}
	roll, err := live.Prepare(line)
	if err != nil {
		return err
	}
	r, font, err := o.reading(ctx, e)
	if err != nil {
		return err
	}
	s := &studio{e: e, o: &o.requestOptions}
	if s.journal, err = e.openJournal(ctx, o.Journal); err != nil {
		return err
	}
	defer func() {
		if shut := s.close(); err == nil {
			err = shut
		}
	}()
	r.studio = s
	if o.styled {
		r.more = append([]string{"--style", quote(o.Style)}, r.more...)
	}
	if r.latency, err = o.latencyOption.of(ctx, s.journal, r.to); err != nil {
		return err
	}
	r.latency.makeUp(roll)
	id, err := s.keepPiece(ctx, p)
	if err != nil {
		return err
	}
	var track *files
	if o.kept {
		if track, err = o.track(p, line, font); err != nil {
			return err
		}
		if err := track.place(); err != nil {
			return err
		}
	}
	r.showPiece(p, opts, track)
	if err := r.countDown(ctx); err != nil {
		return err
	}
	return r.take(ctx, id, p.Measures[len(p.Measures)-1].Number, roll, func(report live.Report) { r.afterPiece(p, roll, report) })
}

// accompaniment settles how the piece is accompanied: where it has no other part, by the
// style asked for, else by a march or a song, as its tempo is.
func (o *readOptions) accompaniment(ctx context.Context, p *printedPiece) (band.PieceOptions, error) {
	opts := band.PieceOptions{Tempo: o.Tempo, Options: band.Options{
		Guide: o.Guide, Click: band.Click(o.Click), CountIn: o.countIn(), Percent: o.Slower.value(),
	}}
	if !band.Alone(p.Piece, p.index) {
		if o.styled {
			return opts, askedf("--style %s: %s has parts of its own for the band; leave --style out", o.Style, o.Piece)
		}
		return opts, nil
	}
	style := o.Style
	if !o.styled && p.beats(o.Tempo) < songTempo {
		style = "lyrical"
	}
	var err error
	opts.Style, _, err = openStyle(ctx, style)
	return opts, err
}

// songTempo is below which felt beats a minute the band of a song plays to a lone part.
const songTempo = 88

// beats reports the tempo at the start in felt beats a minute; tempo is what was asked for.
func (p *printedPiece) beats(tempo int) int {
	if tempo > 0 {
		return tempo
	}
	first := p.Measures[0]
	minute := 60_000_000 / float64(first.Tempos[0].MicrosPerQuarter) // quarters
	return int(minute*float64(quarterTicks)/float64(first.Meter.Beat()) + 0.5)
}

// keepPiece sees to it that the journal knows the part, so that its takes can be kept and
// no read copies it, and reports its number there.
func (s *studio) keepPiece(ctx context.Context, p *printedPiece) (int64, error) {
	before, had, err := s.journal.Find(ctx, p.identity())
	if err != nil || had {
		return before.ID, err
	}
	in, err := s.o.instrument(ctx, s.journal)
	if err != nil {
		return 0, err
	}
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		return 0, err
	}
	row := journal.Read{Identity: p.identity(), Title: p.title, Style: "piece", Instrument: in.ID, Melody: encodeLines(nil), Length: len(p.Measures)}
	if line := p.part().Line; line != nil {
		row.Melody = encodeLines(compose.Lines(line, longestRun(rungs)-1))
		row.Runs = journalRuns(compose.Runs(line, rungs.Runs()))
	}
	return s.journal.AddRead(ctx, row)
}

// track writes the band's MIDI file, and its sound where a font is given, as drafts.
func (o *readOptions) track(p *printedPiece, t *timeline.Timeline, font *synth.Font) (f *files, err error) {
	if err := openFolder(o.Out); err != nil {
		return nil, err
	}
	base := filepath.Base(p.file)
	f = &files{folder: o.Out}
	if f.name, err = freeTrack(o.Out, fmt.Sprintf("%s-part-%d", plainName(strings.TrimSuffix(base, filepath.Ext(base))), p.index+1), p.identity()); err != nil {
		return nil, err
	}
	parts := []part{{bandSuffix, func(w io.Writer) error { return file.Write(w, t, p.title, p.identity()) }}}
	if font != nil {
		parts = append(parts, part{soundSuffix, func(w io.Writer) error { return synth.RenderWAV(w, t, font, synth.Options{}) }})
	}
	return f, f.writeAll(parts...)
}

// freeTrack chooses a name under which no file lies in the folder, or a track of this very
// part.
func freeTrack(folder, base, identity string) (string, error) {
	name := base
	for i := 2; ; i++ {
		text, err := userfile.Read(context.Background(), filepath.Join(folder, name+bandSuffix), userfile.MaxMIDI)
		if err != nil && !os.IsNotExist(err) {
			return "", unreadable("file", filepath.Join(folder, name+bandSuffix), err)
		}
		_, sound := os.Lstat(filepath.Join(folder, name+soundSuffix))
		if err == nil && bytes.Contains(text, []byte(identity)) || err != nil && sound != nil {
			return name, nil
		}
		name = fmt.Sprintf("%s-%d", base, i)
	}
}

// showPiece says what the piece is, who plays, where the sound goes, and what to look at.
func (r *reading) showPiece(p *printedPiece, opts band.PieceOptions, track *files) {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", p.title)
	if p.Composer != "" {
		field(&b, "by", p.Composer)
	}
	field(&b, "you", fmt.Sprintf("part %d of %d, %s", p.index+1, len(p.Parts), p.part().Name))
	field(&b, "band", p.bandWords(opts.Style))
	for _, w := range p.warnings() {
		field(&b, "but", w)
	}
	if track != nil {
		field(&b, "written", fmt.Sprintf("%s (%s)", track.path(track.parts[0]), strings.Join(track.parts, " ")))
	}
	r.showSound(&b)
	if r.lookOver > 0 {
		b.WriteString("\nLook it over:\n")
		for _, l := range p.lookOver(r.o) {
			field(&b, l.word, l.text)
		}
		b.WriteString("\n")
	}
	io.WriteString(r.out, b.String())
}

// bandWords says who plays.
func (p *printedPiece) bandWords(style *styles.Sheet) string {
	if style != nil {
		return fmt.Sprintf("there is no other part: the band of the style %s plays, to chord symbols or to chords found for your line", style.Name)
	}
	var names []string
	for i := range p.Parts {
		if i != p.index && p.Parts[i].Sounding() > 0 && !slices.Contains(names, p.Parts[i].Name) {
			names = append(names, p.Parts[i].Name)
		}
	}
	return strings.Join(names, ", ")
}

// warningsTold is how many warnings are told before the rest is only counted.
const warningsTold = 6

// warnings says what is played otherwise than it stands in the file, each thing once.
func (p *printedPiece) warnings() []string {
	var all []string
	for _, w := range p.Warnings {
		if !slices.Contains(all, w.Text) {
			all = append(all, w.Text)
		}
	}
	if n := len(all); n > warningsTold {
		all = append(all[:warningsTold-1], fmt.Sprintf("%d things more are played otherwise than they stand there", n-warningsTold+1))
	}
	return all
}
