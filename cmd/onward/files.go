package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/compose/musicxml"
	"onward/midi/band"
	"onward/midi/file"
	"onward/midi/synth"
	"onward/midi/timeline"
)

// files are the files of one read, written beside their places and not yet in them.
type files struct {
	folder string
	name   string   // without suffix
	parts  []string // the suffixes, in the order written
	placed int      // how many of them are in place
	sheets int      // how many of them are sheets for paper, see print.go
}

// The suffixes of a read's files.
const (
	pageSuffix     = ".musicxml"
	bandSuffix     = ".mid"
	soundSuffix    = ".wav"
	documentSuffix = ".json"
)

// path reports where the file of a suffix belongs.
func (f *files) path(suffix string) string { return filepath.Join(f.folder, f.name+suffix) }

// draft reports where the file is written before it is put in its place.
func (f *files) draft(suffix string) string { return draftOf(f.path(suffix)) }

// A part is one of the files, and how it is written.
type part struct {
	suffix string
	write  func(io.Writer) error
}

// arrange makes the band of a read: what its file holds and its take plays.
func (o *requestOptions) arrange(m *made) (t *timeline.Timeline, err error) {
	if o.DropOut {
		if m.rests, err = band.DropOut(m.Read); errors.Is(err, band.ErrNoRoom) {
			return nil, askedf("--drop-out: this read has %s, too few for the band to rest and come back: ask for 8 or more, or leave --drop-out out", lengthWords(&m.Score.Parts[0]))
		}
		if err != nil {
			return nil, err
		}
	}
	return band.Arrange(m.Read, band.Options{
		Guide: o.Guide, Click: band.Click(o.Click), CountIn: o.countIn(), Percent: o.Slower.value(), Rubato: o.Rubato,
		DropOut: o.DropOut, Company: band.Company(o.Company),
	})
}

// A takenDocument is what is known of a read, and how its take goes if that is not as the
// page says.
type takenDocument struct {
	compose.Document
	Take *takeDocument `json:"take,omitempty"`
}

func (o *requestOptions) document(m *made) takenDocument {
	return takenDocument{m.document, o.takeOptions.document(m)}
}

// draft writes the files of a read beside their places. font is nil for no sound.
func (o *requestOptions) draft(m *made, t *timeline.Timeline, font *synth.Font) (f *files, err error) {
	if err := os.MkdirAll(o.Out, 0o777); err != nil {
		return nil, unwritable("folder", o.Out, err)
	}
	f = &files{folder: o.Out}
	if f.name, err = o.name(m); err != nil {
		return nil, err
	}
	parts := []part{
		{pageSuffix, func(w io.Writer) error { return musicxml.Write(w, m.Score) }},
		{bandSuffix, func(w io.Writer) error { return file.Write(w, t, m.Title, m.Identity) }},
		{documentSuffix, func(w io.Writer) error { return writeJSON(w, o.document(m)) }},
	}
	if font != nil {
		parts = append(parts, part{soundSuffix, func(w io.Writer) error { return synth.RenderWAV(w, t, font, synth.Options{}) }})
	}
	return f, f.writeAll(parts...)
}

// writeAll writes the drafts of all parts, or leaves none.
func (f *files) writeAll(parts ...part) error {
	for _, p := range parts {
		if err := f.write(p.suffix, p.write); err != nil {
			f.discard()
			return err
		}
	}
	return nil
}

// write writes the draft of one part.
func (f *files) write(suffix string, write func(io.Writer) error) error {
	f.parts = append(f.parts, suffix)
	out, err := os.Create(f.draft(suffix))
	if err == nil {
		err = write(out)
		if shut := out.Close(); err == nil {
			err = shut
		}
	}
	var disk *fs.PathError
	if errors.As(err, &disk) {
		return unwritable("file", f.path(suffix), err)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.path(suffix), err)
	}
	return nil
}

// place puts all files in their places, or none.
func (f *files) place() error {
	for _, p := range f.parts {
		if err := os.Rename(f.draft(p), f.path(p)); err != nil {
			for _, done := range f.parts[:f.placed] {
				os.Remove(f.path(done))
			}
			f.discard()
			return unwritable("file", f.path(p), err)
		}
		f.placed++
	}
	f.dropOldSheets()
	return nil
}

// discard takes the drafts away.
func (f *files) discard() {
	for _, p := range f.parts[f.placed:] {
		os.Remove(f.draft(p))
	}
}

// name chooses a read's name: style, rung and seed, and a number where another read of
// that name lies in the folder. The same read takes the same name.
func (o *requestOptions) name(m *made) (string, error) {
	base := fmt.Sprintf("%s-r%d-%d", plainName(m.Style.Name), m.Rung, m.Seed)
	name := base
	for i := 2; ; i++ {
		free, err := o.free(name, m.Identity)
		if free || err != nil {
			return name, err
		}
		name = fmt.Sprintf("%s-%d", base, i)
	}
}

// free reports whether the folder has no read of the name, or this very one.
func (o *requestOptions) free(name, identity string) (bool, error) {
	path := filepath.Join(o.Out, name)
	text, err := userfile.Read(context.Background(), path+documentSuffix, userfile.MaxScore)
	if err == nil {
		var there struct {
			Identity struct {
				Request string `json:"request"`
			} `json:"identity"`
		}
		return json.Unmarshal(text, &there) == nil && there.Identity.Request == identity, nil
	}
	if !os.IsNotExist(err) {
		return false, unreadable("file", path+documentSuffix, err)
	}
	for _, suffix := range []string{pageSuffix, bandSuffix, soundSuffix, pdfSuffix, sheetSuffix(1)} {
		if _, err := os.Lstat(path + suffix); err == nil {
			return false, nil
		}
	}
	return true, nil
}

// plainName brings a style's name into a form that any file system takes.
func plainName(style string) string {
	plain := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, strings.ToLower(style))
	if plain = strings.Trim(plain, "-"); plain == "" {
		return "read"
	}
	return plain
}

// writeJSON writes v for programs and people.
func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
