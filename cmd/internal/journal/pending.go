package journal

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// A Pending take is under way, or over and not in the journal yet. It holds the read too,
// but for its runs, so that it enters any journal, and so that any process can keep it: in a
// file beside the journal, a portable journal of that one take. It goes from process to
// process as JSON.
type Pending struct {
	Path    string // the journal's file
	Read    string // the identity of the read that is taken
	Take    Take   // ReadID aside
	Player  string
	Before  []byte // the lines that stand before that of the take
	Numbers int    // how many these are
}

// Pending prepares a take of a read that the journal has. It only reads.
func (j *Journal) Pending(ctx context.Context, read int64) (*Pending, error) {
	p := &Pending{Path: j.path, Player: j.player}
	var b bytes.Buffer
	err := j.view(ctx, func(tx *sql.Tx) error {
		x := exporter{ctx: ctx, tx: tx, json: json.NewEncoder(&b)}
		x.say(headerLine{kindHeader, Format, formatVersion})
		l := readLine{Kind: kindRead, Number: 1}
		var made moment
		var drilled []byte
		err := tx.QueryRowContext(ctx, `SELECT player, identity, title, style, rung, instrument, made, measures, melody, figures, loads, request, body FROM reads
			LEFT JOIN read_figures ON read_figures.read_id = reads.id LEFT JOIN read_loads ON read_loads.read_id = reads.id
			LEFT JOIN requests ON requests.read_id = reads.id LEFT JOIN drilled ON drilled.id = requests.drilled WHERE reads.id = ?`, read).Scan(
			&l.Player, &l.Identity, &l.Title, &l.Style, &l.Rung, &l.Instrument, &made, &l.Length, (*[]byte)(&l.Melody),
			(*[]byte)(&l.Figures), (*[]byte)(&l.Loads), (*[]byte)(&l.Request), &drilled)
		if err != nil {
			return err
		}
		for _, name := range slices.Compact([]string{l.Player, j.player}) {
			if name != "" {
				x.say(playerLine{kindPlayer, name, j.now()})
			}
		}
		if drilled != nil {
			x.say(drilledLine{kindDrilled, 1, drilled})
			l.Drilled = 1
		}
		l.Made = made.Time
		x.say(l)
		p.Read, p.Before, p.Numbers = l.Identity, b.Bytes(), x.lines
		return x.fault
	})
	return p, explain(j.path, fmt.Sprintf("prepare a take of read %d", read), err)
}

// portable is the take as a portable journal.
func (p *Pending) portable() []byte {
	t := &p.Take
	b := bytes.NewBuffer(bytes.Clone(p.Before))
	lines := json.NewEncoder(b)
	lines.Encode(takeLine{Kind: kindTake, Number: 1, Player: p.Player, Read: 1, Started: t.Started, Ended: t.Ended, Outcome: t.Outcome,
		LateMedian: int64(t.LateMedian), LateMax: int64(t.LateMax), Dropped: t.Dropped, Percent: t.Percent, Rubato: t.Rubato, Pressure: t.Pressure})
	lines.Encode(endLine{kindEnd, p.Numbers + 1})
	return b.Bytes()
}

// besides begins the names of the files beside the journal at path that hold takes; when the
// take started and the check sum of the file follow.
const besides = ".take-"

// aside ends the name of such a file that is damaged.
const aside = ".damaged"

// largestBeside is how many bytes such a file has at most.
const largestBeside = maxLine

// draftBeside begins the names under which such files are written, in the journal's folder.
func draftBeside(path string) string { return "." + filepath.Base(path) + besides }

// oldDraft is how old a draft is whose writer must have been killed.
const oldDraft = time.Hour

// beside begins the name of this take's file.
func (p *Pending) beside() string {
	return fmt.Sprintf("%s%s%d-", p.Path, besides, p.Take.Started.UnixNano())
}

// Write keeps the take, which is over, in a file beside the journal, whole or not at all, and
// reports its path. The journal that is next asked to TakeUp has the take.
func (p *Pending) Write() (path string, err error) {
	if err := p.Take.check(); err != nil {
		return "", fmt.Errorf("a take beside journal %s: %w", p.Path, err)
	}
	text := p.portable()
	path = fmt.Sprintf("%s%08x", p.beside(), crc32.ChecksumIEEE(text))
	f, err := os.CreateTemp(filepath.Dir(p.Path), draftBeside(p.Path)+"*")
	if err != nil {
		return "", err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
		return "", err
	}
	if folder, err := os.Open(filepath.Dir(path)); err == nil {
		folder.Sync() // where the system can, so that the name is on the disk, too
		folder.Close()
	}
	return path, nil
}

// Keep puts the take, which is over, into the journal, exactly once however often it is
// called and by how many programs, and removes its file. It reports the numbers of the take
// and of its read there.
func (j *Journal) Keep(ctx context.Context, p *Pending) (take, read int64, err error) {
	if err := p.Take.check(); err != nil {
		return 0, 0, explain(j.path, "add a take", err)
	}
	if _, err := j.Import(ctx, "the take that ended", bytes.NewReader(p.portable())); err != nil {
		return 0, 0, err
	}
	err = j.db.QueryRowContext(ctx, `SELECT takes.id, read_id FROM takes JOIN reads ON reads.id = read_id
		WHERE identity = ? AND takes.player = ? COLLATE NOCASE AND started = ?`, p.Read, p.Player, j.stamp(p.Take.Started)).Scan(&take, &read)
	if err != nil {
		return 0, 0, explain(j.path, "find a take that was added", err)
	}
	for _, path := range takesBeside(j.path) {
		if strings.HasPrefix(path, p.beside()) {
			os.Remove(path)
		}
	}
	return take, read, nil
}

// takesBeside lists the files beside the journal at path that hold takes, and removes what a
// killed process has left of one that it was writing.
func takesBeside(path string) (all []string) {
	entries, _ := os.ReadDir(filepath.Dir(path)) // where it cannot be read nothing can be taken up
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), draftBeside(path)) {
			if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > oldDraft {
				os.Remove(filepath.Join(filepath.Dir(path), e.Name()))
			}
		}
		if strings.HasPrefix(e.Name(), filepath.Base(path)+besides) && !strings.HasSuffix(e.Name(), aside) {
			all = append(all, filepath.Join(filepath.Dir(path), e.Name()))
		}
	}
	return all
}

// A TakenUp is a file beside the journal that held a take. Err is nil where the journal now
// has that; a *LineError where the file is damaged, and then lies at Aside; else what kept
// the journal from taking it, and it is tried again next time.
type TakenUp struct {
	Path, Aside string
	Err         error
}

// TakeUp adds the takes that lie in files beside the journal: those whose program ended, or
// could not reach the journal, before they were in it. Each is added exactly once, though
// several programs take them up at once.
func (j *Journal) TakeUp(ctx context.Context) (all []TakenUp) {
	for _, path := range takesBeside(j.path) {
		text, err := readBeside(path)
		if errors.Is(err, os.ErrNotExist) {
			continue // another program has just taken it up
		}
		up := TakenUp{Path: path, Err: err}
		if err == nil {
			_, up.Err = j.Import(ctx, path, bytes.NewReader(text))
		}
		switch {
		case up.Err == nil:
			os.Remove(path)
		case isAnswer(up.Err):
			if err := os.Rename(path, path+aside); err == nil {
				up.Aside = path + aside
			}
		}
		all = append(all, up)
	}
	return all
}

// readBeside reads a file beside the journal, and refuses with a *LineError one that is not
// as Write left it.
func readBeside(path string) ([]byte, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > largestBeside {
		return nil, &LineError{path, 1, wrongf("no file of a take: it is a folder, a link or a device, or larger than %d MiB", largestBeside>>20)}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, largestBeside))
	if err != nil {
		return nil, err
	}
	if sum := fmt.Sprintf("-%08x", crc32.ChecksumIEEE(text)); !strings.HasSuffix(path, sum) {
		return nil, &LineError{path, 1, wrongf("its check sum is not that in its name")}
	}
	return text, nil
}

// Replaced reports whether the journal's file was removed, or another put in its place, since
// it was opened: what is written goes nowhere then.
func (j *Journal) Replaced() bool {
	info, err := os.Stat(j.path)
	return err != nil && errors.Is(err, os.ErrNotExist) || err == nil && !os.SameFile(info, j.condition.opened)
}

// Anew opens the journal again by its path, as the same player, where it was replaced; one
// that was removed is begun anew. j is closed.
func (j *Journal) Anew(ctx context.Context) (*Journal, error) {
	// What the log still holds belongs to the file that was there: the other file, which has
	// the same name, would take it for its own.
	j.db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	j.Close() // before the other is open, whose log has the same name
	all, err := Open(ctx, j.path, j.now)
	if err != nil {
		return nil, err
	}
	own, _, err := all.As(ctx, j.player)
	if err != nil {
		all.Close()
	}
	return own, err
}
