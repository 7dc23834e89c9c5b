package journal

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
	"unicode"
)

// A Vocabulary is a set of figures that the player saved under a name.
type Vocabulary struct {
	Name   string
	Saved  time.Time
	Sheet  []byte  // the vocabulary file, TOML, as it was given
	Drills []Drill // what it was learned from, in the order given
}

// A Drill is an exercise that the player learned, kept so that reads never copy it.
type Drill struct {
	Title   string
	Learned time.Time
	Melody  []byte // as in Read
	Runs    []Run  // its runs, those found twice once
}

// Runs lists the runs of all drills.
func (v Vocabulary) Runs() []Run {
	var all []Run
	for _, d := range v.Drills {
		all = append(all, d.Runs...)
	}
	return all
}

// SaveVocabulary keeps v under its name, in place of an earlier one of the player of that name. Saved,
// and Learned of each drill, if zero, are now. A name that is blank, or could be taken for
// a file's, is refused with a *NameError.
func (j *Journal) SaveVocabulary(ctx context.Context, v Vocabulary) error {
	if err := checkName(v.Name); err != nil {
		return err
	}
	err := j.act(ctx, func(tx *sql.Tx) error { return j.addVocabulary(ctx, tx, v) })
	return explain(j.path, fmt.Sprintf("save vocabulary %q", v.Name), err)
}

// addVocabulary writes v in place of the player's earlier one of that name.
func (j *Journal) addVocabulary(ctx context.Context, tx *sql.Tx, v Vocabulary) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM vocabularies WHERE player = ? AND name = ?", j.player, v.Name); err != nil {
		return err
	}
	result, err := tx.ExecContext(ctx, "INSERT INTO vocabularies (player, name, saved, sheet) VALUES (?, ?, ?, ?)",
		j.player, v.Name, j.stamp(v.Saved), blob(v.Sheet))
	if err != nil {
		return err
	}
	id, err := result.LastInsertId()
	if err != nil {
		return err
	}
	return j.addDrills(ctx, tx, id, v.Drills)
}

// A NameError is a name that cannot be used, by the player's mistake.
type NameError struct {
	Of    string // what is named: vocabulary or player
	Name  string
	Fault string // what is wrong
	Mend  string // what the player can do
}

// Error says which name, what is wrong and what to do.
func (e *NameError) Error() string {
	return fmt.Sprintf("%s %q: %s: %s", e.Of, e.Name, e.Fault, e.Mend)
}

// checkName refuses a name that could not be told from a file's.
func checkName(name string) error {
	switch {
	case strings.TrimSpace(name) == "":
		return &NameError{"vocabulary", name, "it has no name", `give it one, such as "warm-up"`}
	case strings.ContainsAny(name, `/\.`) || strings.ContainsFunc(name, unicode.IsControl):
		return &NameError{"vocabulary", name, "the name could be a file's", "leave out dots, slashes and control characters"}
	}
	return nil
}

// addDrills writes the drills of a vocabulary and their runs.
func (j *Journal) addDrills(ctx context.Context, tx *sql.Tx, vocabulary int64, drills []Drill) error {
	var runs []ownedRun
	for _, d := range drills {
		result, err := tx.ExecContext(ctx, "INSERT INTO drills (vocabulary, title, learned, melody) VALUES (?, ?, ?, ?)",
			vocabulary, d.Title, j.stamp(d.Learned), blob(d.Melody))
		if err != nil {
			return fmt.Errorf("drill %q: %w", d.Title, err)
		}
		id, err := result.LastInsertId()
		if err != nil {
			return err
		}
		for _, r := range d.Runs {
			runs = append(runs, ownedRun{id, r})
		}
	}
	return addRuns(ctx, tx, `INSERT INTO drill_runs (drill_id, length, hash, rhythm, intervals)
		VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`, runs)
}

// Vocabularies lists the player's saved vocabularies by name, without their drills.
func (j *Journal) Vocabularies(ctx context.Context) ([]Vocabulary, error) {
	all, err := vocabularies(j.db.QueryContext(ctx, vocabularyQuery, j.player))
	return all, explain(j.path, "list vocabularies", err)
}

const vocabularyQuery = "SELECT name, saved, sheet FROM vocabularies WHERE player = ? ORDER BY name"

// Vocabulary reports the player's vocabulary of the name given, with its drills and their runs. An
// unknown name is a *NameError that lists those there are.
func (j *Journal) Vocabulary(ctx context.Context, name string) (Vocabulary, error) {
	var v Vocabulary
	err := j.view(ctx, func(tx *sql.Tx) error {
		all, err := vocabularies(tx.QueryContext(ctx, vocabularyQuery, j.player))
		if err != nil {
			return err
		}
		for _, each := range all {
			if each.Name == name {
				v = each
				v.Drills, err = drills(ctx, tx, j.player, name)
				return err
			}
		}
		return unknown(name, all)
	})
	return v, explain(j.path, fmt.Sprintf("vocabulary %q", name), err)
}

// unknown is the error of a name that is none of those saved.
func unknown(name string, saved []Vocabulary) error {
	if len(saved) == 0 {
		return &NameError{"vocabulary", name, "no vocabulary is saved yet", "save one with onward learn FILE --save NAME"}
	}
	names := make([]string, len(saved))
	for i, v := range saved {
		names[i] = v.Name
	}
	return &NameError{"vocabulary", name, "none is saved under this name", "choose from " + strings.Join(names, ", ")}
}

// vocabularies reads rows of vocabularyQuery.
func vocabularies(rows *sql.Rows, err error) ([]Vocabulary, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Vocabulary
	for rows.Next() {
		var v Vocabulary
		var saved string
		if err := rows.Scan(&v.Name, &saved, &v.Sheet); err != nil {
			return nil, err
		}
		if v.Saved, err = unstamp(saved); err != nil {
			return nil, fmt.Errorf("vocabulary %q: %w", v.Name, err)
		}
		all = append(all, v)
	}
	return all, rows.Err()
}

// drills reports the drills of a player's vocabulary with their runs.
func drills(ctx context.Context, tx *sql.Tx, player, name string) ([]Drill, error) {
	var vocabulary int64
	err := tx.QueryRowContext(ctx, "SELECT id FROM vocabularies WHERE player = ? AND name = ?", player, name).Scan(&vocabulary)
	if err != nil {
		return nil, err
	}
	all, at, err := bareDrills(tx.QueryContext(ctx,
		"SELECT id, title, learned, melody FROM drills WHERE vocabulary = ? ORDER BY id", vocabulary))
	if err != nil {
		return nil, err
	}
	rows, err := tx.QueryContext(ctx, `SELECT drill_id, length, hash, rhythm, intervals
		FROM drill_runs JOIN drills ON drills.id = drill_id
		WHERE vocabulary = ? ORDER BY drill_id, length, hash`, vocabulary)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id, hash, rhythm int64
		var r Run
		if err := rows.Scan(&id, &r.Length, &hash, &rhythm, &r.Intervals); err != nil {
			return nil, err
		}
		r.Hash, r.Rhythm = uint64(hash), uint64(rhythm)
		all[at[id]].Runs = append(all[at[id]].Runs, r)
	}
	return all, rows.Err()
}

// bareDrills reads rows of ID, title, learned and melody, and reports where in the list
// each ID stands.
func bareDrills(rows *sql.Rows, err error) ([]Drill, map[int64]int, error) {
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	var all []Drill
	at := map[int64]int{}
	for rows.Next() {
		var id int64
		var d Drill
		var learned string
		if err := rows.Scan(&id, &d.Title, &learned, &d.Melody); err != nil {
			return nil, nil, err
		}
		if d.Learned, err = unstamp(learned); err != nil {
			return nil, nil, fmt.Errorf("drill %q: %w", d.Title, err)
		}
		at[id] = len(all)
		all = append(all, d)
	}
	return all, at, rows.Err()
}
