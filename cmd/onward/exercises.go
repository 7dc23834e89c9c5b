package main

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/midi/file"
	"onward/midi/transcribe"
)

// What is learned at a time at most.
const (
	mostExercises = 1000    // files of a folder
	mostNotes     = 200_000 // of all exercises
)

// exerciseKinds are the endings of files that exercises are looked for in.
var exerciseKinds = []string{".musicxml", ".xml", ".mxl", ".mid", ".midi"}

// whatToGive says what an exercise can be.
const whatToGive = "give a MusicXML file (.musicxml, .xml or .mxl), a MIDI file (.mid), a folder of such, or a vocabulary (.toml)"

// exercises reads an exercise, or all those of a folder and the folders in it.
func (r *drillReader) exercises(name string) (*drilled, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, unreadable("exercises", name, err)
	}
	if !info.IsDir() {
		return r.exercise(name)
	}
	names, err := exercisesIn(r.ctx, name)
	if err != nil {
		return nil, err
	}
	var d drilled
	failed, say := 0, r.everySecond()
	for i, each := range names {
		if err := r.ctx.Err(); err != nil {
			return nil, err
		}
		one, err := r.exercise(each)
		if err != nil {
			failed++
			fmt.Fprintf(r.warn, "left out: %s\n", firstLine(err))
			continue
		}
		d.add(one)
		if notes := d.notes(); notes > mostNotes {
			return nil, askedf("exercises %s: more than %d notes: learn it folder by folder", name, mostNotes)
		}
		say("%d of %d exercises read\n", i+1, len(names))
	}
	if failed == len(names) {
		return nil, askedf("exercises %s: none of %s in this folder can be read", name, count(failed, "file"))
	}
	if failed > 0 {
		fmt.Fprintf(r.warn, "%s: %d of %d exercises were left out\n", name, failed, len(names))
	}
	return &d, nil
}

// everySecond is a way to say how far things are, which is silent for a second after it
// spoke; without a clock it is silent always.
func (r *drillReader) everySecond() func(format string, args ...any) {
	if r.now == nil {
		return func(string, ...any) {}
	}
	said := r.now()
	return func(format string, args ...any) {
		if now := r.now(); now.Sub(said) >= time.Second {
			said = now
			fmt.Fprintf(r.warn, format, args...)
		}
	}
}

// notes counts the notes of the lines.
func (d *drilled) notes() int {
	n := 0
	for _, l := range d.lines {
		n += len(l.MIDI)
	}
	return n
}

// firstLine is an error without its advice.
func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return strings.TrimSuffix(line, ":")
}

// exercisesIn lists the exercises in a folder and the folders in it, in order of name;
// what begins with a dot is passed over.
func exercisesIn(ctx context.Context, folder string) ([]string, error) {
	var names []string
	err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		switch hidden := strings.HasPrefix(e.Name(), ".") && path != folder; {
		case err != nil:
			return unreadable("exercises", path, err)
		case ctx.Err() != nil:
			return ctx.Err()
		case e.IsDir() && hidden:
			return fs.SkipDir
		case e.IsDir() || hidden || !slices.Contains(exerciseKinds, strings.ToLower(filepath.Ext(path))):
			return nil
		case len(names) == mostExercises:
			return askedf("exercises %s: more than %d files: learn it folder by folder", folder, mostExercises)
		}
		names = append(names, path)
		return nil
	})
	if err == nil && len(names) == 0 {
		err = askedf("exercises %s: no file in this folder ends in %s", folder, strings.Join(exerciseKinds, ", "))
	}
	return names, err
}

// exercise reads one file.
func (r *drillReader) exercise(name string) (*drilled, error) {
	read := r.openScore
	switch strings.ToLower(filepath.Ext(name)) {
	case ".mid", ".midi":
		read = r.openMIDI
	}
	s, err := read(name)
	if err != nil {
		return nil, err
	}
	var d drilled
	for i := range s.Parts {
		p := &s.Parts[i]
		d.parts = append(d.parts, p)
		lines := compose.Lines(p, r.back)
		d.lines = append(d.lines, lines...)
		title := s.Title
		if title == "" {
			title = name
		}
		if len(s.Parts) > 1 {
			title += ", " + p.Name
		}
		d.drills = append(d.drills, journal.Drill{Title: title, Melody: encodeLines(lines)})
	}
	if len(d.parts) > 0 && d.notes() > mostNotes {
		return nil, askedf("exercises %s: more than %d notes", name, mostNotes)
	}
	return &d, nil
}

// openScore reads the parts of a MusicXML file that are learned, and says what of them was
// left out.
func (r *drillReader) openScore(name string) (*score.Score, error) {
	r.scores++
	f, err := userfile.Open(r.ctx, name, userfile.MaxScore)
	if err != nil {
		return nil, unreadable("exercises", name, err)
	}
	defer f.Close()
	lines, err := musicxml.ReadLinesFile(name, f, f.Size())
	if err != nil {
		return nil, asked(err, whatToGive)
	}
	return r.choose(name, lines)
}

// openMIDI reads a MIDI file's line and says which that is, and what the file left open.
func (r *drillReader) openMIDI(name string) (*score.Score, error) {
	r.tracks++
	f, err := userfile.Open(r.ctx, name, userfile.MaxMIDI)
	if err != nil {
		return nil, unreadable("exercises", name, err)
	}
	defer f.Close()
	take, err := file.Read(f)
	if err != nil {
		return nil, asked(fmt.Errorf("%s: %w", name, err), whatToGive)
	}
	voices := transcribe.Voices(take)
	if len(voices) == 0 {
		return nil, askedf("%s: it plays no notes but drums", name)
	}
	chosen := voices[transcribe.Highest(voices)]
	if r.track != "" {
		if chosen, err = chooseTrack(name, r.track, voices); err != nil {
			return nil, err
		}
	}
	page, err := transcribe.Write(take, chosen)
	if err != nil {
		return nil, asked(fmt.Errorf("%s: %s: %w", name, chosen, err), "")
	}
	if len(voices) > 1 && r.track == "" {
		fmt.Fprintf(r.warn, "%s: the line is that of %s, of %s; --track chooses another\n", name, chosen, count(len(voices), "voice"))
	}
	for _, a := range page.Assumed {
		fmt.Fprintf(r.warn, "%s: %s\n", name, a)
	}
	return &score.Score{Parts: []score.Part{page.Part}}, nil
}

// chooseTrack finds a voice by its track's number, from 1, or name.
func chooseTrack(file, track string, voices []transcribe.Voice) (transcribe.Voice, error) {
	number, err := strconv.Atoi(track)
	var there []string
	for _, v := range voices {
		if err == nil && v.Track+1 == number || strings.EqualFold(v.Name, track) {
			return v, nil
		}
		there = append(there, v.String())
	}
	return transcribe.Voice{}, askedf("%s: no track %q with notes: there is %s", file, track, strings.Join(there, "; "))
}
