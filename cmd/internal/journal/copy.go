package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// copyPath is where the copy of the journal at path lies, which is never more than a day
// older than the last write before that.
func copyPath(path string) string { return path + ".copy" }

// damaged is the refusal of a damaged journal. It names the copy if there is one.
func damaged(path, fault string, cause error) *Refusal {
	r := &Refusal{Path: path, Fault: fault, Mend: mendMove, Cause: cause}
	if info, err := os.Stat(copyPath(path)); err == nil && info.Mode().IsRegular() && info.Size() > 0 {
		r.Mend = fmt.Sprintf("a copy of %s is %s: move the journal away, and %s-wal if it is there, and give the copy its name; or %s",
			info.ModTime().Local().Format("2 January 2006, 15:04"), copyPath(path), filepath.Base(path), mendOther)
	}
	return r
}

// finish seals the file and, where the copy is a day old, copies it, if this process wrote to
// it and no other is writing: that one will.
func (j *Journal) finish(ctx context.Context) error {
	info, err := os.Stat(j.path)
	if err != nil || !j.condition.wrote.Load() || !os.SameFile(info, j.condition.opened) {
		return nil // a file that was replaced is another's to seal
	}
	old, err := os.Stat(copyPath(j.path))
	due := err != nil || !recent(j.now(), old.ModTime())
	if info.Size() > wholly && !due {
		return nil
	}
	var busy, frames, done int
	err = j.db.QueryRowContext(ctx, "PRAGMA busy_timeout = 0").Scan(&busy)
	if err == nil {
		err = j.db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &done)
	}
	if err != nil || busy != 0 {
		return nil
	}
	switch {
	case info.Size() > wholly:
		err = j.sound(ctx, "quick_check")
	case due || !j.condition.whole.Load():
		err = j.sound(ctx, "integrity_check")
	}
	var fault *Refusal
	if errors.As(err, &fault) || err == nil && !due && j.seal(ctx, io.Discard) == nil {
		return err
	}
	if err == nil && due {
		j.copy(ctx) // one that cannot be made now is made next time
	}
	return nil
}

// seal seals the file and copies it to w. Meanwhile nobody can write to it.
func (j *Journal) seal(ctx context.Context, w io.Writer) error {
	return j.still(ctx, func(tx *sql.Tx) error {
		state, err := j.state(ctx, tx)
		if err != nil {
			return err
		}
		if j.logged() {
			return errors.New("another process has written")
		}
		s, err := j.sum(state, w)
		if err == nil {
			s.write(j.path)
		}
		return err
	})
}

// copy puts a copy beside the journal in place of an older one of the same journal. The copy
// of another, which lay at this path before, gets another name.
func (j *Journal) copy(ctx context.Context) (err error) {
	folder, name := filepath.Dir(j.path), "."+filepath.Base(copyPath(j.path))+"-"
	f, err := os.CreateTemp(folder, name+"*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // after the renaming it does nothing
	err = j.seal(ctx, f)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Chtimes(f.Name(), j.now(), j.now()); err != nil {
		return err
	}
	if err := j.keepOthersCopy(ctx); err != nil {
		return err
	}
	return os.Rename(f.Name(), copyPath(j.path))
}

// keepOthersCopy renames a copy that is not of this journal.
func (j *Journal) keepOthersCopy(ctx context.Context) error {
	path := copyPath(j.path)
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return nil
	}
	var own, copied int64
	if err := j.db.QueryRowContext(ctx, "SELECT begun FROM state").Scan(&own); err != nil {
		return err
	}
	if begun(ctx, path, &copied) == nil && copied == own {
		return nil
	}
	return putAside(path)
}

// begun reads which journal a copy is of. It leaves the file as it is.
func begun(ctx context.Context, path string, id *int64) error {
	db, err := sql.Open("sqlite", source(path)+"&immutable=1")
	if err != nil {
		return err
	}
	defer db.Close()
	return db.QueryRowContext(ctx, "SELECT begun FROM state").Scan(id)
}
