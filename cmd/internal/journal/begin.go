package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// begin makes a new journal at path under another name and then gives it its own, so that
// the file is a whole journal from the beginning. Where another process was faster its
// journal stays. What a killed process left in the log of an earlier journal, which would enter
// the new one, is put aside.
func begin(ctx context.Context, path string, now func() time.Time) error {
	folder := filepath.Dir(path)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return &Refusal{Path: path, Fault: "its folder cannot be made", Mend: mendOther, Cause: err}
	}
	name := "." + filepath.Base(path) + ".begun-"
	f, err := os.CreateTemp(folder, name+"*")
	if err != nil {
		return &Refusal{Path: path, Fault: "cannot be written", Mend: mendLet, Cause: err}
	}
	defer os.Remove(f.Name())
	defer f.Close()
	db, err := sql.Open("sqlite", source(f.Name()))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	defer db.Close()
	_, err = db.ExecContext(ctx, "PRAGMA synchronous = OFF") // it reaches the disk at the end, in one go
	if err == nil {
		err = (&Journal{path: path, now: now, db: db}).prepare(ctx)
	}
	if err == nil {
		_, err = db.ExecContext(ctx, "PRAGMA journal_mode = DELETE") // all of it in the one file
	}
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := place(ctx, db, f.Name(), path); err != nil {
		return &Refusal{Path: path, Fault: "cannot be written", Mend: mendLet, Cause: err}
	}
	syncFolder(folder)
	return nil
}

// place gives the journal that lies at draft, and is open as db, its own path, unless there is
// one, and puts aside what SQLite would take for its logs. Who opens it there waits for the
// lock, and looks for a log only then.
func place(ctx context.Context, db *sql.DB, draft, path string) error {
	if _, err := db.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		return err
	}
	err := os.Link(draft, path)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil
	case err == nil:
		if err = putLogsAside(path); err != nil {
			os.Remove(path)
		}
		return err
	}
	db.Close() // Windows gives no open file another name
	if err := putLogsAside(path); err != nil {
		return err
	}
	return os.Rename(draft, path) // a file system without links
}

// putLogsAside renames the logs that SQLite would take for those of the file at path.
func putLogsAside(path string) error {
	for _, end := range []string{"-wal", "-journal"} {
		if err := putAside(path + end); err != nil {
			return err
		}
	}
	return nil
}

// putAside gives a file, if there is one, the first free name of path.1, path.2, ...
func putAside(path string) error {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for i := 1; ; i++ {
		other := fmt.Sprintf("%s.%d", path, i)
		if _, err := os.Lstat(other); errors.Is(err, fs.ErrNotExist) {
			return os.Rename(path, other)
		}
	}
}

// syncFolder has the names of a folder reach the disk, where the system can do that.
func syncFolder(path string) {
	if folder, err := os.Open(path); err == nil {
		folder.Sync()
		folder.Close()
	}
}

// oldLeftover is how old a file is whose writer must have been killed.
const oldLeftover = time.Hour

// drafts begin, after a dot and the journal's name, the names under which its files are written.
var drafts = []string{".begun-", ".copy-", ".seal-"}

// sweep removes the old drafts that killed processes have left beside the journal at path.
func sweep(path string) {
	folder, name := filepath.Split(path)
	entries, _ := os.ReadDir(folder) // what cannot be read is left
	for _, e := range entries {
		end, ours := strings.CutPrefix(e.Name(), "."+name)
		if !ours || !slices.ContainsFunc(drafts, func(d string) bool { return strings.HasPrefix(end, d) }) {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > oldLeftover {
			os.Remove(filepath.Join(folder, e.Name()))
		}
	}
}
