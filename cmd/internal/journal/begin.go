package journal

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// begin makes a new journal at path under another name and then gives it its own, so that
// the file is a whole journal from the beginning. Where another process was faster its
// journal stays.
func begin(ctx context.Context, path string, now func() time.Time) error {
	folder := filepath.Dir(path)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return &Refusal{Path: path, Fault: "its folder cannot be made", Mend: mendOther, Cause: err}
	}
	name := "." + filepath.Base(path) + ".begun-"
	sweep(folder, name)
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
	_, err = db.ExecContext(ctx, "PRAGMA synchronous = OFF") // it reaches the disk at the end, in one go
	if err == nil {
		err = (&Journal{path: path, now: now, db: db}).prepare(ctx)
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil { // Windows gives no open file another name
		return err
	}
	err = os.Link(f.Name(), path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		err = os.Rename(f.Name(), path) // a file system without links
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return &Refusal{Path: path, Fault: "cannot be written", Mend: mendLet, Cause: err}
	}
	syncFolder(folder)
	return nil
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

// sweep removes what killed processes have left in a folder: old files whose names begin so.
func sweep(folder, name string) {
	entries, _ := os.ReadDir(folder) // what cannot be read is left
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), name) {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > oldLeftover {
			os.Remove(filepath.Join(folder, e.Name()))
		}
	}
}
