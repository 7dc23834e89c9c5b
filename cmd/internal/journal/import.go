package journal

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// A LineError is a portable journal that cannot be imported, by what stands in a line.
type LineError struct {
	File string
	Line int // from 1
	Err  error
}

// Error says which line of which file, and what is wrong.
func (e *LineError) Error() string { return fmt.Sprintf("%s:%d: %v", e.File, e.Line, e.Err) }

// Unwrap reports what is wrong.
func (e *LineError) Unwrap() error { return e.Err }

// Imported counts what an import added, and what was there already.
type Imported struct{ Added, Had Items }

// Items counts what a journal holds. Marks are marked takes.
type Items struct{ Players, Reads, Takes, Marks, Lessons, Warmups, Vocabularies, Latencies, Proposals int }

// Import adds what a journal in its portable form holds, all players'; name is the file's. It
// writes nothing before it has read all of it, and then some lines at a time, so that no other
// program waits for long. Where the journal fails in between, a second Import adds the rest.
// What is there already is not added again: reads, lessons and warm-ups of one player and time
// that are otherwise the same, takes of one read by one player that started at one time. Of two
// vocabularies of one name,
// and of two latencies of one sink, the later stays; marks and proposals that are there stay.
// A file that is damaged or cut short is refused with a *LineError.
func (j *Journal) Import(ctx context.Context, name string, r io.ReadSeeker) (Imported, error) {
	check, m := newImporter(ctx, j), newImporter(ctx, j)
	err := check.file(name, r, check.line)
	if err == nil && !check.ended {
		err = &LineError{name, check.lines + 1, wrongf("the file ends without its last line, of kind %q: it is cut short; export it again", kindEnd)}
	}
	if err == nil {
		_, err = r.Seek(0, io.SeekStart)
	}
	if err == nil {
		err = m.pieces(name, r)
	}
	var line *LineError
	switch {
	case err == nil:
		return m.count, nil
	case errors.As(err, &line) && isAnswer(line.Err):
		return Imported{}, err
	}
	return Imported{}, explain(j.path, "import "+name, err)
}

// A wrongLine is what is wrong in a line, by the file's fault and not the journal's.
type wrongLine struct{ error }

func (w wrongLine) Unwrap() error { return w.error }

func isAnswer(err error) bool {
	var w wrongLine
	return errors.As(err, &w)
}

// wrong is a fault of the file's; nil where err is.
func wrong(err error) error {
	if err == nil {
		return nil
	}
	return wrongLine{err}
}

func wrongf(format string, args ...any) error { return wrong(fmt.Errorf(format, args...)) }

// An importer goes through a portable journal.
type importer struct {
	ctx     context.Context
	tx      *sql.Tx // nil: the lines are checked, and nothing is written
	journal *Journal
	count   Imported
	players map[string]*Journal // by the name in the file
	reads   []importedRead      // by number less 1
	takes   []importedTake
	places  places
	drilled [][]byte // by number less 1
	// vocabularies are by number less 1; whole is how many of them, from the first on, are added.
	vocabularies []importedVocabulary
	whole        int
	ended        bool
	lines        int // that were read
	limit        int // of lines
}

type importedRead struct {
	id     int64
	length int
	// fresh is a read that is to be added with others, and past its past in the file's numbers,
	// nil for none; see flush.
	fresh *Read
	past  []span
	owner *Journal
}

// An importedVocabulary is gathered until its last drill.
type importedVocabulary struct {
	owner *Journal
	Vocabulary
}

type importedTake struct {
	id    int64
	owner *Journal
}

func newImporter(ctx context.Context, j *Journal) *importer {
	return &importer{ctx: ctx, journal: j, limit: maxLines, players: map[string]*Journal{"": {path: j.path, now: j.now}}}
}

const (
	pieceSize = 512 << 10 // bytes of lines that are written at once: on two slow cores a quarter of a second
	// breather is how long others may write between two pieces. (SQLite's busy handler waits
	// 100 ms at most until it tries again.)
	breather = 120 * time.Millisecond
)

// pieces writes what the lines hold, some at a time.
func (m *importer) pieces(name string, r io.Reader) error {
	var lines [][]byte
	first, size, written := 1, 0, false
	write := func() error {
		if written {
			select {
			case <-m.ctx.Done():
				return m.ctx.Err()
			case <-time.After(breather):
			}
		}
		written = true
		err := m.journal.write(m.ctx, func(tx *sql.Tx) error {
			m.tx = tx
			for i, l := range lines {
				if err := m.line(first+i, l); err != nil {
					return &LineError{name, first + i, err}
				}
			}
			return m.flush()
		})
		first, size, lines = first+len(lines), 0, nil
		return err
	}
	err := m.file(name, r, func(_ int, text []byte) error {
		lines = append(lines, bytes.Clone(text))
		if size += len(text); size < pieceSize {
			return nil
		}
		return write()
	})
	if err != nil || len(lines) == 0 {
		return err
	}
	return write()
}

// file does something with each line and its number.
func (m *importer) file(name string, r io.Reader, do func(n int, text []byte) error) error {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLine)
	for lines.Scan() {
		if err := lines.Err(); err != nil { // what came of the last line before it
			return err
		}
		m.lines++
		var at *LineError
		if err := do(m.lines, lines.Bytes()); errors.As(err, &at) {
			return err
		} else if err != nil {
			return &LineError{name, m.lines, err}
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return &LineError{name, m.lines + 1, wrongf("the line is longer than %d MiB: no journal has such a line", maxLine>>20)}
	case err != nil:
		return err
	}
	return nil
}

// handlers take up a line of a kind.
var handlers = map[string]func(*importer, []byte) error{
	kindPlayer:     (*importer).player,
	kindDrilled:    (*importer).whatWasDrilled,
	kindRead:       (*importer).read,
	kindTake:       (*importer).take,
	kindLesson:     (*importer).lesson,
	kindWarmup:     (*importer).warmup,
	kindVocabulary: (*importer).vocabulary,
	kindDrill:      (*importer).drill,
	kindLatency:    (*importer).latency,
	kindProposal:   (*importer).proposal,
}

// line takes up the line of number n.
func (m *importer) line(n int, text []byte) error {
	var of struct {
		Kind string `json:"kind"`
	}
	switch {
	case n > m.limit:
		return wrongf("more than %d lines: no journal has so many", m.limit)
	case m.ended:
		return wrongf("a line after that of kind %q", kindEnd)
	case !utf8.Valid(text):
		return wrongf("the line is no UTF-8 text")
	}
	if err := json.Unmarshal(text, &of); err != nil {
		return wrongf("the line is no JSON object: %w", err)
	}
	if n == 1 || of.Kind == kindHeader {
		return m.header(n, text)
	}
	if of.Kind != kindVocabulary && of.Kind != kindDrill {
		if err := m.addVocabularies(len(m.vocabularies)); err != nil {
			return err
		}
	}
	if of.Kind == kindEnd {
		m.ended = true
		return m.end(n, text)
	}
	handle := handlers[of.Kind]
	if handle == nil {
		return wrongf("kind %q: no journal of version %d has such a line", of.Kind, formatVersion)
	}
	return handle(m, text)
}

// parse reads a line of a kind, all of it.
func parse(text []byte, line any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	return wrong(d.Decode(line))
}

func (m *importer) header(n int, text []byte) error {
	var l headerLine
	var shape struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	json.Unmarshal(text, &shape) // what it cannot read stays empty
	switch {
	case n > 1:
		return wrongf("a second header")
	case shape.Format != Format:
		return wrongf("no journal that was exported: the first line has no format %q", Format)
	case shape.Version > formatVersion:
		return wrongf("exported by a newer onward (version %d; this one knows %d): update onward", shape.Version, formatVersion)
	}
	if err := parse(text, &l); err != nil {
		return err
	}
	if l.Kind != kindHeader || l.Version < 1 {
		return wrongf("kind %q, version %d: want %q and 1 to %d", l.Kind, l.Version, kindHeader, formatVersion)
	}
	return nil
}

func (m *importer) end(n int, text []byte) error {
	var l endLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if l.Lines != n-1 {
		return wrongf("there were %d lines when it was exported; before this one are %d", l.Lines, n-1)
	}
	return nil
}

// owner is the journal of the player named in the file.
func (m *importer) owner(name string) (*Journal, error) {
	if o := m.players[name]; o != nil {
		return o, nil
	}
	return nil, wrongf("player %q: no line before this one lists this player", name)
}

func (m *importer) player(text []byte) error {
	var l playerLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if err := checkPlayer(l.Name); err != nil || l.Name == "" || strings.TrimSpace(l.Name) != l.Name || m.players[l.Name] != nil {
		return wrongf("player %q: it is no name, or comes twice", l.Name)
	}
	if m.tx == nil {
		m.players[l.Name] = m.journal
		return nil
	}
	all, err := players(m.tx.QueryContext(m.ctx, "SELECT name, added FROM players"))
	if err != nil {
		return err
	}
	for _, p := range all {
		if strings.EqualFold(p.Name, l.Name) {
			m.players[l.Name] = m.as(p.Name)
			m.count.Had.Players++
			return nil
		}
	}
	m.players[l.Name] = m.as(l.Name)
	m.count.Added.Players++
	_, err = m.tx.ExecContext(m.ctx, "INSERT INTO players (name, added) VALUES (?, ?)", l.Name, m.journal.stamp(l.Added))
	return err
}

func (m *importer) as(player string) *Journal {
	j := *m.journal
	j.player = player
	return &j
}

// id reports the first column of the first row of a query; 0 where there is none.
func (m *importer) id(query string, args ...any) (id int64, err error) {
	if m.tx == nil {
		return 0, nil
	}
	err = m.tx.QueryRowContext(m.ctx, query, args...).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return id, err
}

// dated refuses a time that is not there.
func dated(what string, t time.Time) error {
	if t.IsZero() {
		return wrongf("%s: it has no time", what)
	}
	return nil
}
