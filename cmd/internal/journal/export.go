package journal

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"time"
)

// Export writes the whole journal, all players', in its portable form: see Format. The same
// journal gives the same bytes.
func (j *Journal) Export(ctx context.Context, w io.Writer) error {
	buffer := bufio.NewWriter(w)
	err := j.view(ctx, func(tx *sql.Tx) error {
		x := exporter{ctx: ctx, tx: tx, json: json.NewEncoder(buffer), reads: map[int64]int{}, takes: map[int64]int{}, drills: map[int64]int{}}
		x.json.SetEscapeHTML(false)
		x.say(headerLine{kindHeader, Format, formatVersion})
		for _, step := range []func() error{x.players, x.drilled, x.allReads, x.allTakes, x.lessons, x.warmups, x.vocabularies, x.latencies, x.proposals} {
			if err := step(); err != nil {
				return err
			}
		}
		x.say(endLine{kindEnd, x.lines})
		return x.fault
	})
	if err == nil {
		err = buffer.Flush()
	}
	return explain(j.path, "export", err)
}

// An exporter writes lines and remembers the numbers of what it wrote.
type exporter struct {
	ctx    context.Context
	tx     *sql.Tx
	json   *json.Encoder
	lines  int
	reads  map[int64]int // numbers by ID
	takes  map[int64]int
	drills map[int64]int // what was drilled when reads were made
	fault  error         // the first of writing
}

// say writes a line.
func (x *exporter) say(line any) {
	if x.fault == nil {
		x.fault = x.json.Encode(line)
	}
	x.lines++
}

// each does something for each row of a query.
func (x *exporter) each(query string, row func(scan func(...any) error) error) error {
	rows, err := x.tx.QueryContext(x.ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			return err
		}
		if x.fault != nil {
			return x.fault
		}
	}
	return rows.Err()
}

// A moment is a time as the file keeps it.
type moment struct{ time.Time }

// Scan implements sql.Scanner.
func (m *moment) Scan(v any) (err error) {
	text, _ := v.(string)
	m.Time, err = unstamp(text)
	return err
}

func (x *exporter) players() error {
	return x.each("SELECT name, added FROM players ORDER BY added, name", func(scan func(...any) error) error {
		l := playerLine{Kind: kindPlayer}
		var added moment
		err := scan(&l.Name, &added)
		l.Added = added.Time
		x.say(l)
		return err
	})
}

// drilled writes what was drilled when reads were made.
func (x *exporter) drilled() error {
	return x.each("SELECT id, body FROM drilled ORDER BY id", func(scan func(...any) error) error {
		var id int64
		l := drilledLine{Kind: kindDrilled, Number: len(x.drills) + 1}
		err := scan(&id, (*[]byte)(&l.Body))
		x.drills[id] = l.Number
		x.say(l)
		return err
	})
}

// allReads writes the reads, with what of their runs and measures, which are kept in another
// order, comes by beside them.
func (x *exporter) allReads() error {
	runs, err := follow(x, "SELECT read_id, length, hash, rhythm, intervals FROM runs ORDER BY read_id, length, hash",
		func(scan func(...any) error) (id int64, r run, err error) {
			var sum, rhythm int64
			err = scan(&id, &r.Length, &sum, &rhythm, &r.Intervals)
			r.Hash, r.Rhythm = uint64(sum), uint64(rhythm)
			return id, r, err
		})
	if err != nil {
		return err
	}
	defer runs.rows.Close()
	measures, err := follow(x, "SELECT read_id, hash FROM measures ORDER BY read_id, hash",
		func(scan func(...any) error) (id int64, h hash, err error) {
			var sum int64
			err = scan(&id, &sum)
			return id, hash(sum), err
		})
	if err != nil {
		return err
	}
	defer measures.rows.Close()
	const query = `SELECT id, player, identity, title, style, rung, instrument, made, measures, melody, figures, loads, request, drilled, past FROM reads
		LEFT JOIN read_figures ON read_figures.read_id = id LEFT JOIN read_loads ON read_loads.read_id = id
		LEFT JOIN requests ON requests.read_id = id LEFT JOIN pasts ON pasts.read_id = id ORDER BY id`
	return x.each(query, func(scan func(...any) error) error {
		l := readLine{Kind: kindRead, Number: len(x.reads) + 1}
		var id int64
		var made moment
		var drilled sql.NullInt64
		var past []byte
		err := scan(&id, &l.Player, &l.Identity, &l.Title, &l.Style, &l.Rung, &l.Instrument, &made, &l.Length, (*[]byte)(&l.Melody), (*[]byte)(&l.Figures), (*[]byte)(&l.Loads), (*[]byte)(&l.Request), &drilled, &past)
		if err != nil {
			return err
		}
		l.Drilled = x.drills[drilled.Int64]
		l.Made = made.Time
		if l.Past, err = x.past(past); err != nil {
			return fmt.Errorf("what read %d was kept clear of: %w", id, err)
		}
		if l.Runs, err = runs.of(id); err != nil {
			return err
		}
		if l.Hashes, err = measures.of(id); err != nil {
			return err
		}
		x.reads[id] = l.Number
		x.say(l)
		return nil
	})
}

// past turns the IDs of a past that the journal kept into numbers.
func (x *exporter) past(text []byte) (spans []span, err error) {
	if text == nil {
		return nil, nil
	}
	if err := json.Unmarshal(text, &spans); err != nil {
		return nil, err
	}
	for i, s := range spans {
		first, last := x.reads[s[0]], x.reads[s[1]]
		if first == 0 || last == 0 {
			return nil, fmt.Errorf("reads %d to %d are not all in the journal", s[0], s[1])
		}
		spans[i] = span{int64(first), int64(last)}
	}
	return spans, nil
}

// A follower goes through rows that belong to others, in the others' order.
type follower[T any] struct {
	rows  *sql.Rows
	read  func(scan func(...any) error) (int64, T, error)
	owner int64 // of next; 0 before the first and after the last
	next  T
	begun bool
}

func follow[T any](x *exporter, query string, read func(scan func(...any) error) (int64, T, error)) (*follower[T], error) {
	rows, err := x.tx.QueryContext(x.ctx, query)
	return &follower[T]{rows: rows, read: read}, err
}

// of reports the rows that belong to the owner, who comes after those asked for before.
func (f *follower[T]) of(owner int64) (all []T, err error) {
	if !f.begun {
		f.begun = true
		if err := f.step(); err != nil {
			return nil, err
		}
	}
	for f.owner == owner {
		all = append(all, f.next)
		if err := f.step(); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func (f *follower[T]) step() (err error) {
	if !f.rows.Next() {
		f.owner = 0
		return f.rows.Err()
	}
	f.owner, f.next, err = f.read(f.rows.Scan)
	return err
}

func (x *exporter) allTakes() error {
	slips, err := slipsOf(x.ctx, x.tx, 0)
	if err != nil {
		return err
	}
	const query = `SELECT takes.id, player, read_id, started, ended, outcome, late_median, late_max, dropped, percent, rubato, pressure,
		marked, ifnull(stopped_at, -1) FROM takes LEFT JOIN marks ON take_id = takes.id ORDER BY takes.id`
	return x.each(query, func(scan func(...any) error) error {
		l := takeLine{Kind: kindTake, Number: len(x.takes) + 1}
		var id, read int64
		var started, ended moment
		var pressure string
		var marked sql.NullString
		var stopped int
		err := scan(&id, &l.Player, &read, &started, &ended, &l.Outcome, &l.LateMedian, &l.LateMax, &l.Dropped, &l.Percent, &l.Rubato, &pressure, &marked, &stopped)
		if err != nil {
			return err
		}
		l.Read, l.Started, l.Ended, l.Pressure = x.reads[read], started.Time, ended.Time, splitPressure(pressure)
		if marked.Valid {
			l.Marks = &marksLine{StoppedAt: stopped, Slips: []slipLine{}}
			if l.Marks.Marked, err = unstamp(marked.String); err != nil {
				return err
			}
			for _, s := range slips[id] {
				l.Marks.Slips = append(l.Marks.Slips, slipLine(s))
			}
		}
		x.takes[id] = l.Number
		x.say(l)
		return nil
	})
}

func (x *exporter) lessons() error {
	return x.each("SELECT player, learned, figures FROM lessons ORDER BY id", func(scan func(...any) error) error {
		l := lessonLine{Kind: kindLesson}
		var learned moment
		err := scan(&l.Player, &learned, (*[]byte)(&l.Figures))
		l.Learned = learned.Time
		x.say(l)
		return err
	})
}

func (x *exporter) warmups() error {
	return x.each("SELECT player, day, made, request, lines FROM warmups ORDER BY id", func(scan func(...any) error) error {
		l := warmupLine{Kind: kindWarmup}
		var made moment
		var lines []byte
		err := scan(&l.Player, &l.Day, &made, (*[]byte)(&l.Request), &lines)
		l.Made = made.Time
		for ; len(lines) >= 8; lines = lines[8:] {
			l.Lines = append(l.Lines, hash(binary.BigEndian.Uint64(lines)))
		}
		x.say(l)
		return err
	})
}

func (x *exporter) vocabularies() error {
	numbers := map[int64]int{}
	err := x.each("SELECT id, player, name, saved, sheet FROM vocabularies ORDER BY id", func(scan func(...any) error) error {
		l := vocabularyLine{Kind: kindVocabulary, Number: len(numbers) + 1}
		var id int64
		var saved moment
		var sheet []byte
		err := scan(&id, &l.Player, &l.Name, &saved, &sheet)
		l.Saved, l.Sheet = saved.Time, string(sheet)
		numbers[id] = l.Number
		x.say(l)
		return err
	})
	if err != nil {
		return err
	}
	return x.each("SELECT id, vocabulary, title, learned, melody FROM drills ORDER BY vocabulary, id", func(scan func(...any) error) error {
		l := drillLine{Kind: kindDrill}
		var id, vocabulary int64
		var learned moment
		if err := scan(&id, &vocabulary, &l.Title, &learned, (*[]byte)(&l.Melody)); err != nil {
			return err
		}
		l.Vocabulary, l.Learned = numbers[vocabulary], learned.Time
		l.Runs, err = drillRuns(x.ctx, x.tx, id)
		x.say(l)
		return err
	})
}

// drillRuns reads the runs of a drill.
func drillRuns(ctx context.Context, tx *sql.Tx, drill int64) ([]run, error) {
	rows, err := tx.QueryContext(ctx, "SELECT length, hash, rhythm, intervals FROM drill_runs WHERE drill_id = ? ORDER BY length, hash", drill)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []run
	for rows.Next() {
		var r run
		var sum, rhythm int64
		if err := rows.Scan(&r.Length, &sum, &rhythm, &r.Intervals); err != nil {
			return nil, err
		}
		r.Hash, r.Rhythm = uint64(sum), uint64(rhythm)
		all = append(all, r)
	}
	return all, rows.Err()
}

func (x *exporter) latencies() error {
	return x.each("SELECT sink, millis, kept FROM latencies ORDER BY sink", func(scan func(...any) error) error {
		l := latencyLine{Kind: kindLatency}
		var kept moment
		err := scan(&l.Sink, &l.Millis, &kept)
		l.Kept = kept.Time
		x.say(l)
		return err
	})
}

func (x *exporter) proposals() error {
	const query = "SELECT take_id, made, style, rung, coverage, new, percent, pressure, wanted, why FROM proposals ORDER BY take_id"
	return x.each(query, func(scan func(...any) error) error {
		l := proposalLine{Kind: kindProposal}
		var take int64
		var made moment
		var pressure string
		err := scan(&take, &made, &l.Style, &l.Rung, &l.Coverage, &l.New, &l.Percent, &pressure, (*[]byte)(&l.Wanted), &l.Why)
		l.Take, l.Made, l.Pressure = x.takes[take], made.Time, splitPressure(pressure)
		x.say(l)
		return err
	})
}
