package journal

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// A Player is one of several who share a journal.
type Player struct {
	Name  string
	Added time.Time
}

// Players lists the named players by name.
func (j *Journal) Players(ctx context.Context) ([]Player, error) {
	all, err := players(j.db.QueryContext(ctx, "SELECT name, added FROM players ORDER BY name"))
	return all, explain(j.path, "list players", err)
}

// players reads rows of name and date.
func players(rows *sql.Rows, err error) ([]Player, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Player
	for rows.Next() {
		var p Player
		var added string
		if err := rows.Scan(&p.Name, &added); err != nil {
			return nil, err
		}
		if p.Added, err = unstamp(added); err != nil {
			return nil, fmt.Errorf("player %q: %w", p.Name, err)
		}
		all = append(all, p)
	}
	return all, rows.Err()
}

// Player reports whose journal this is, "" for the player without a name.
func (j *Journal) Player() string { return j.player }

// As reports the journal as the player of the name given has it, whose takes, lessons,
// warm-ups, saved figures and proposals are apart from others'; reads are kept clear of for
// all. It shares the file with j: close one of them. Capitals make no other name. A name
// that the journal does not have is fresh: it is added with the first thing that the player
// does. "" is the player without a name; where all players have one, the only one, else the
// one of the last take. A name that is too long or has control characters is refused with
// a *NameError.
func (j *Journal) As(ctx context.Context, name string) (as *Journal, fresh bool, err error) {
	own := *j
	as = &own
	name = strings.TrimSpace(name)
	if err := checkPlayer(name); err != nil {
		return nil, false, err
	}
	all, err := j.Players(ctx)
	if err != nil {
		return nil, false, err
	}
	if name == "" {
		as.player, err = j.usualPlayer(ctx, all)
		return as, false, explain(j.path, "find the player", err)
	}
	for _, p := range all {
		if strings.EqualFold(p.Name, name) {
			as.player = p.Name
			return as, false, nil
		}
	}
	as.player = name
	return as, true, nil
}

// longestName is how many letters a player's name may have.
const longestName = 40

func checkPlayer(name string) error {
	if n := utf8.RuneCountInString(name); n > longestName || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		return &NameError{"player", name, "it is no name", fmt.Sprintf("use at most %d letters, without control characters", longestName)}
	}
	return nil
}

// usualPlayer reports who plays where nobody says so.
func (j *Journal) usualPlayer(ctx context.Context, all []Player) (name string, err error) {
	if len(all) > 0 {
		err = j.db.QueryRowContext(ctx, `SELECT CASE WHEN (`+namelessQuery+`) THEN ''
			ELSE ifnull((SELECT player FROM takes ORDER BY started DESC, id DESC LIMIT 1), ?) END`, all[0].Name).Scan(&name)
	}
	return name, err
}

// namelessQuery says whether the player without a name has done anything.
const namelessQuery = `SELECT EXISTS (SELECT 1 FROM takes WHERE player = '')
	OR EXISTS (SELECT 1 FROM lessons WHERE player = '') OR EXISTS (SELECT 1 FROM warmups WHERE player = '')
	OR EXISTS (SELECT 1 FROM vocabularies WHERE player = '') OR EXISTS (SELECT 1 FROM reads WHERE player = '')`

// enlist adds the player that j is of, where they are not in the journal yet.
func (j *Journal) enlist(ctx context.Context, tx *sql.Tx) error {
	if j.player == "" {
		return nil
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO players (name, added) VALUES (?, ?) ON CONFLICT DO NOTHING", j.player, j.stamp(time.Time{}))
	return err
}

// act does work in a transaction, for a player who is in the journal then.
func (j *Journal) act(ctx context.Context, work func(*sql.Tx) error) error {
	return j.write(ctx, func(tx *sql.Tx) error {
		if err := j.enlist(ctx, tx); err != nil {
			return err
		}
		return work(tx)
	})
}
