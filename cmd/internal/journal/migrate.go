package journal

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// application marks a SQLite file as a journal: "Onwd" in ASCII.
const application = 0x4f6e7764

//go:embed schema/*.sql
var schema embed.FS

// migrations reports the SQL that leads from each version of the schema to the next, in
// order: the file at index 0 makes version 1 of an empty file.
func migrations(files fs.FS) ([]string, error) {
	names, err := fs.Glob(files, "schema/*.sql")
	if err != nil {
		return nil, err
	}
	steps := make([]string, len(names))
	for i, name := range names {
		var number int
		if _, err := fmt.Sscanf(path.Base(name), "%04d_", &number); err != nil || number != i+1 {
			return nil, fmt.Errorf("%s: want number %04d", name, i+1)
		}
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		steps[i] = string(text)
	}
	return steps, nil
}

// newest is the schema's version that this program writes.
func newest() int32 {
	names, err := fs.Glob(schema, "schema/*.sql")
	if err != nil {
		panic(err) // only a malformed pattern fails
	}
	return int32(len(names))
}

// checkOwner refuses a file whose marks are not those of a journal that this program knows.
func checkOwner(file string, owner, version int32) error {
	switch {
	case owner != application:
		return &Refusal{Path: file, Fault: "is another program's database", Mend: mendOther}
	case version > newest():
		return &Refusal{
			Path:  file,
			Fault: fmt.Sprintf("was written by a newer onward (schema %d; this one knows %d)", version, newest()),
			Mend:  "update onward, or " + mendOther,
		}
	case version < 1:
		return damaged(file, fmt.Sprintf("is damaged (schema %d)", version), nil)
	}
	return nil
}

// prepare brings the file up to date and puts it into write-ahead mode, in which readers
// and a writer do not wait for each other.
func (j *Journal) prepare(ctx context.Context) error {
	steps, err := migrations(schema)
	if err != nil {
		return err
	}
	version, err := j.version(ctx, j.db)
	if err != nil {
		return err
	}
	for ; version < len(steps); version++ {
		err := j.migrate(ctx, steps, version)
		var fault *sqlite.Error
		if errors.As(err, &fault) && fault.Code() == sqlite3.SQLITE_ERROR {
			return j.outOfStep(version, err)
		}
		if err != nil {
			return err
		}
	}
	found, err := j.tables(ctx)
	if err == nil && found != tables {
		err = j.outOfStep(version, nil)
	}
	if err != nil {
		return err
	}
	return j.writeAhead(ctx)
}

// tables lists the tables and columns of the newest schema, as Journal.tables does.
//
//go:embed schema/tables.txt
var tables string

// tables lists the file's tables and their columns, a line each, in order.
func (j *Journal) tables(ctx context.Context) (list string, err error) {
	err = j.db.QueryRowContext(ctx, `SELECT ifnull(group_concat(line, ''), '') FROM (
		SELECT t.name || ' ' || c.name || char(10) AS line FROM sqlite_schema AS t JOIN pragma_table_info(t.name) AS c
		WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY line)`).Scan(&list)
	return list, err
}

// outOfStep is the refusal of a file whose tables are not those of its version.
func (j *Journal) outOfStep(version int, cause error) error {
	return damaged(j.path, fmt.Sprintf("is damaged: it says that its schema is number %d, and its tables are not those of that", version), cause)
}

// A querier is a database or a transaction.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// version reports the file's schema version, 0 of an empty file. It refuses a file that
// is not a journal or is newer.
func (j *Journal) version(ctx context.Context, db querier) (int, error) {
	var owner, version, tables int32
	const marks = `SELECT
		(SELECT application_id FROM pragma_application_id),
		(SELECT user_version FROM pragma_user_version),
		(SELECT count(*) FROM sqlite_schema)`
	if err := db.QueryRowContext(ctx, marks).Scan(&owner, &version, &tables); err != nil {
		return 0, err
	}
	if owner == 0 && version == 0 && tables == 0 {
		return 0, nil
	}
	return int(version), checkOwner(j.path, owner, version)
}

// migrate leads the file from the version given to the next one, whole or not at all. A
// process that finds the step already done by another does nothing.
func (j *Journal) migrate(ctx context.Context, steps []string, from int) error {
	return j.transact(ctx, func(tx *sql.Tx) error {
		version, err := j.version(ctx, tx)
		if err != nil || version > from {
			return err
		}
		mark := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d;", application, from+1)
		if _, err := tx.ExecContext(ctx, steps[from]+mark); err != nil {
			return fmt.Errorf("schema %d to %d: %w", from, from+1, err)
		}
		return nil
	})
}

// writeAhead asks for SQLite's write-ahead log. The first asking needs the file alone, and
// the database does not wait for it by itself, so this does. On a disk that allows no such
// log the journal goes on without it, right but slower.
func (j *Journal) writeAhead(ctx context.Context) error {
	const pause = 5 * time.Millisecond
	for tries := int(patience / pause); ; tries-- {
		var mode string
		err := j.db.QueryRowContext(ctx, "PRAGMA journal_mode = WAL").Scan(&mode)
		var fault *sqlite.Error
		busy := errors.As(err, &fault) && fault.Code()&0xff == sqlite3.SQLITE_BUSY
		if !busy || tries == 0 {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}

// write does work in one transaction that has the right to write from its beginning, and
// brings the journal into another state.
func (j *Journal) write(ctx context.Context, work func(*sql.Tx) error) error {
	return j.transact(ctx, func(tx *sql.Tx) error {
		j.wrote.Store(true)
		if _, err := tx.ExecContext(ctx, "UPDATE state SET state = random()"); err != nil {
			return err
		}
		return work(tx)
	})
}

// transact does work in one transaction that has the right to write from its beginning.
func (j *Journal) transact(ctx context.Context, work func(*sql.Tx) error) error {
	tx, err := j.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	if err := work(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// view does work on the journal as it stood at one moment.
func (j *Journal) view(ctx context.Context, work func(*sql.Tx) error) error {
	tx, err := j.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return work(tx)
}

// stamp writes a time for the file; the zero time is now.
func (j *Journal) stamp(t time.Time) string {
	if t.IsZero() {
		t = j.now()
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// unstamp reads a time that stamp wrote.
func unstamp(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("time %q: %w", s, err)
	}
	return t, nil
}
