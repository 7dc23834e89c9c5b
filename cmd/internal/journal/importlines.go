package journal

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"
	"time"
)

func (m *importer) whatWasDrilled(text []byte) error {
	var l drilledLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if err := numbered(l.Number, len(m.drilled)); err != nil {
		return err
	}
	m.drilled = append(m.drilled, l.Body)
	return nil
}

func (m *importer) read(text []byte) error {
	var l readLine
	if err := parse(text, &l); err != nil {
		return err
	}
	owner, err := m.owner(l.Player)
	if err = cmp.Or(err, dated("made", l.Made), numbered(l.Number, len(m.reads))); err != nil {
		return err
	}
	if l.Length < 0 || l.Rung < 0 {
		return wrongf("rung %d, %d measures: want 0 or more", l.Rung, l.Length)
	}
	if l.Drilled < 0 || l.Drilled > len(m.drilled) {
		return wrongf("drilled %d: no line before this one has it", l.Drilled)
	}
	if err := checkPast(l.Past, l.Number); err != nil {
		return err
	}
	if m.tx == nil {
		r := importedRead{length: l.Length}
		if len(m.takes) == 0 {
			r.id = 1 // it would have one
		}
		m.reads = append(m.reads, r)
		return nil
	}
	if id, err := m.id("SELECT id FROM reads WHERE identity = ? AND player = ? AND made = ? AND melody = ?",
		l.Identity, owner.player, owner.stamp(l.Made), blob(l.Melody)); err != nil || id > 0 {
		m.count.Had.Reads++
		m.reads = append(m.reads, importedRead{id: id, length: l.Length})
		return err
	}
	fresh := &Read{Identity: l.Identity, Title: l.Title, Style: l.Style, Rung: l.Rung, Instrument: l.Instrument, Made: l.Made,
		Melody: l.Melody, Length: l.Length, Figures: l.Figures, Loads: l.Loads, Request: l.Request}
	if l.Drilled > 0 {
		fresh.Drilled = m.drilled[l.Drilled-1]
	}
	for _, h := range l.Hashes {
		fresh.Measures = append(fresh.Measures, uint64(h))
	}
	for _, r := range l.Runs {
		fresh.Runs = append(fresh.Runs, Run(r))
	}
	m.count.Added.Reads++
	m.reads = append(m.reads, importedRead{length: l.Length, fresh: fresh, past: l.Past, owner: owner})
	return nil
}

// checkPast refuses a past that the read of the number given cannot have.
func checkPast(past []span, number int) error {
	reads := int64(0)
	for _, s := range past {
		if s[0] < 1 || s[1] < s[0] || s[1] >= int64(number) {
			return wrongf("past %d to %d: want reads before this one", s[0], s[1])
		}
		if reads += s[1] - s[0] + 1; reads >= int64(number) {
			return wrongf("the past has a read twice")
		}
	}
	return nil
}

// places says which IDs the reads of an imported journal have, by number: spans of IDs, and
// the number of the first read of each.
type places struct {
	ids   []span
	first []int64
}

// add adds the ID of the next read.
func (p *places) add(id int64) {
	if n := len(p.ids); n > 0 && p.ids[n-1][1]+1 == id {
		p.ids[n-1][1]++
		return
	}
	p.first = append(p.first, int64(p.count()+1))
	p.ids = append(p.ids, span{id, id})
}

// count reports how many reads have an ID.
func (p *places) count() int {
	n := len(p.ids)
	if n == 0 {
		return 0
	}
	return int(p.first[n-1] + p.ids[n-1][1] - p.ids[n-1][0])
}

// past turns a past's numbers into IDs.
func (p *places) past(numbers []span) []span {
	var ids []span
	for _, s := range numbers {
		i, there := slices.BinarySearch(p.first, s[0])
		if !there {
			i--
		}
		for ; i < len(p.ids) && p.first[i] <= s[1]; i++ {
			by := p.ids[i][0] - p.first[i]
			ids = append(ids, span{max(s[0]+by, p.ids[i][0]), min(s[1]+by, p.ids[i][1])})
		}
	}
	return settled(ids)
}

// numbered refuses a number that does not follow that of the line of its kind before.
func numbered(number, before int) error {
	if number != before+1 {
		return wrongf("number %d: want %d; a line is missing or comes twice", number, before+1)
	}
	return nil
}

// flush adds the reads that wait for it, those of one player that follow each other together,
// which is several times as fast as each alone.
func (m *importer) flush() error {
	for i := m.places.count(); i < len(m.reads); {
		first := i
		var batch []Read
		for i < len(m.reads) && m.reads[i].fresh != nil && m.reads[i].owner == m.reads[first].owner {
			batch = append(batch, *m.reads[i].fresh)
			i++
		}
		if len(batch) == 0 {
			m.places.add(m.reads[i].id)
			i++
			continue
		}
		ids, err := m.reads[first].owner.addReads(m.ctx, m.tx, batch)
		if err != nil {
			return err
		}
		for k := range ids {
			if err := m.added(&m.reads[first+k], ids[k]); err != nil {
				return err
			}
		}
	}
	return nil
}

// added takes note of a read's ID.
func (m *importer) added(r *importedRead, id int64) error {
	m.places.add(id)
	past := r.past
	r.id, r.fresh, r.past = id, nil, nil
	if past == nil {
		return nil
	}
	return addPast(m.ctx, m.tx, id, m.places.past(past))
}

func (m *importer) take(text []byte) error {
	var l takeLine
	if err := parse(text, &l); err != nil {
		return err
	}
	owner, err := m.owner(l.Player)
	if err = cmp.Or(err, dated("started", l.Started), dated("ended", l.Ended), numbered(l.Number, len(m.takes))); err != nil {
		return err
	}
	if l.Read < 1 || l.Read > len(m.reads) {
		return wrongf("read %d: no line before this one has it", l.Read)
	}
	if len(m.takes) == 0 && m.tx != nil { // all reads are told
		if err := m.flush(); err != nil {
			return err
		}
	}
	read := m.reads[l.Read-1]
	if read.id == 0 {
		return wrongf("a take among the reads: the lines are out of order")
	}
	t := Take{ReadID: read.id, Started: l.Started, Ended: l.Ended, Outcome: l.Outcome, LateMedian: time.Duration(l.LateMedian),
		LateMax: time.Duration(l.LateMax), Dropped: l.Dropped, Percent: l.Percent, Rubato: l.Rubato, Pressure: l.Pressure}
	if err := t.check(); err != nil {
		return wrong(err)
	}
	id, err := m.id("SELECT id FROM takes WHERE read_id = ? AND player = ? AND started = ?", read.id, owner.player, owner.stamp(l.Started))
	if err != nil {
		return err
	}
	switch {
	case m.tx == nil:
	case id > 0:
		m.count.Had.Takes++
	default:
		m.count.Added.Takes++
		if id, err = owner.addTake(m.ctx, m.tx, t); err != nil {
			return err
		}
	}
	m.takes = append(m.takes, importedTake{id, owner})
	return m.marks(id, l.Marks, read.length)
}

// marks adds the marks of a take that has none.
func (m *importer) marks(take int64, l *marksLine, measures int) error {
	if l == nil {
		return nil
	}
	marks := Marks{StoppedAt: l.StoppedAt}
	for _, s := range l.Slips {
		marks.Slips = append(marks.Slips, Slip(s))
	}
	if err := cmp.Or(wrong(marks.check(measures)), dated("marked", l.Marked)); err != nil || m.tx == nil {
		return err
	}
	had, err := exists(m.ctx, m.tx, "SELECT EXISTS (SELECT 1 FROM marks WHERE take_id = ?)", take)
	if err != nil || had {
		m.count.Had.Marks++
		return err
	}
	m.count.Added.Marks++
	return addMarks(m.ctx, m.tx, take, marks, m.journal.stamp(l.Marked))
}

func (m *importer) lesson(text []byte) error {
	var l lessonLine
	if err := parse(text, &l); err != nil {
		return err
	}
	owner, err := m.owner(l.Player)
	if err = cmp.Or(err, dated("learned", l.Learned)); err != nil {
		return err
	}
	learned := owner.stamp(l.Learned)
	return m.once("INSERT INTO lessons (player, learned, figures) SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1 FROM lessons WHERE player = ?1 AND learned = ?2 AND figures = ?3)",
		&m.count.Added.Lessons, &m.count.Had.Lessons, owner.player, learned, blob(l.Figures))
}

// once inserts a row where none is like it, and counts it as added or had.
func (m *importer) once(insertion string, added, had *int, args ...any) error {
	if m.tx == nil {
		return nil
	}
	result, err := m.tx.ExecContext(m.ctx, insertion, args...)
	if err != nil {
		return err
	}
	n, err := result.RowsAffected()
	if n == 0 {
		*had++
	} else {
		*added++
	}
	return err
}

func (m *importer) warmup(text []byte) error {
	var l warmupLine
	if err := parse(text, &l); err != nil {
		return err
	}
	owner, err := m.owner(l.Player)
	if err = cmp.Or(err, dated("made", l.Made)); err != nil {
		return err
	}
	if _, err := time.Parse(time.DateOnly, l.Day); err != nil {
		return wrongf("day %q: want a date as 2026-11-25", l.Day)
	}
	var lines []byte
	for _, h := range l.Lines {
		lines = binary.BigEndian.AppendUint64(lines, uint64(h))
	}
	return m.once(`INSERT INTO warmups (player, day, made, request, lines) SELECT ?1, ?2, ?3, ?4, ?5
		WHERE NOT EXISTS (SELECT 1 FROM warmups WHERE player = ?1 AND day = ?2 AND made = ?3 AND request = ?4)`,
		&m.count.Added.Warmups, &m.count.Had.Warmups, owner.player, l.Day, owner.stamp(l.Made), blob(l.Request), blob(lines))
}

func (m *importer) vocabulary(text []byte) error {
	var l vocabularyLine
	if err := parse(text, &l); err != nil {
		return err
	}
	owner, err := m.owner(l.Player)
	if err = cmp.Or(err, dated("saved", l.Saved), numbered(l.Number, len(m.vocabularies)), wrong(checkName(l.Name))); err != nil {
		return err
	}
	v := importedVocabulary{owner: owner}
	if m.tx != nil {
		v.Vocabulary = Vocabulary{Name: l.Name, Saved: l.Saved, Sheet: []byte(l.Sheet)}
	}
	m.vocabularies = append(m.vocabularies, v)
	return nil
}

// addVocabularies adds vocabularies up to that of the number given, each with all its drills, so
// that none is ever there in part.
func (m *importer) addVocabularies(last int) error {
	for ; m.whole < last; m.whole++ {
		v := &m.vocabularies[m.whole]
		if err := m.addVocabulary(v); err != nil {
			return err
		}
		*v = importedVocabulary{}
	}
	return nil
}

func (m *importer) addVocabulary(v *importedVocabulary) error {
	var saved moment
	id, err := m.id("SELECT id FROM vocabularies WHERE player = ? AND name = ?", v.owner.player, v.Name)
	if err == nil && id > 0 {
		err = m.tx.QueryRowContext(m.ctx, "SELECT saved FROM vocabularies WHERE id = ?", id).Scan(&saved)
	}
	switch {
	case err != nil || m.tx == nil:
		return err
	case id > 0 && !v.Saved.After(saved.Time):
		m.count.Had.Vocabularies++
		return nil
	}
	m.count.Added.Vocabularies++
	return v.owner.addVocabulary(m.ctx, m.tx, v.Vocabulary)
}

func (m *importer) drill(text []byte) error {
	var l drillLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if err := dated("learned", l.Learned); err != nil {
		return err
	}
	if l.Vocabulary < 1 || l.Vocabulary > len(m.vocabularies) {
		return wrongf("vocabulary %d: no line before this one has it", l.Vocabulary)
	}
	if l.Vocabulary <= m.whole {
		return wrongf("a drill of vocabulary %d after other lines than its drills: the lines are out of order", l.Vocabulary)
	}
	if err := m.addVocabularies(l.Vocabulary - 1); err != nil || m.tx == nil {
		return err
	}
	d := Drill{Title: l.Title, Learned: l.Learned, Melody: l.Melody}
	for _, r := range l.Runs {
		d.Runs = append(d.Runs, Run(r))
	}
	v := &m.vocabularies[l.Vocabulary-1]
	v.Drills = append(v.Drills, d)
	return nil
}

func (m *importer) latency(text []byte) error {
	var l latencyLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if err := dated("kept", l.Kept); err != nil {
		return err
	}
	if l.Sink == "" || l.Millis < 0 || l.Millis > MaxLatency.Milliseconds() {
		return wrongf("latency of %q, %d ms: want a name, and 0 to %d ms", l.Sink, l.Millis, MaxLatency.Milliseconds())
	}
	if m.tx == nil {
		return nil
	}
	var kept moment
	id, err := m.id("SELECT 1 FROM latencies WHERE sink = ?", l.Sink)
	if err == nil && id > 0 {
		err = m.tx.QueryRowContext(m.ctx, "SELECT kept FROM latencies WHERE sink = ?", l.Sink).Scan(&kept)
	}
	if err != nil || id > 0 && !l.Kept.After(kept.Time) {
		m.count.Had.Latencies++
		return err
	}
	m.count.Added.Latencies++
	_, err = m.tx.ExecContext(m.ctx, "INSERT OR REPLACE INTO latencies (sink, millis, kept) VALUES (?, ?, ?)",
		l.Sink, l.Millis, m.journal.stamp(l.Kept))
	return err
}

func (m *importer) proposal(text []byte) error {
	var l proposalLine
	if err := parse(text, &l); err != nil {
		return err
	}
	if l.Take < 1 || l.Take > len(m.takes) {
		return wrongf("take %d: no line before this one has it", l.Take)
	}
	take := m.takes[l.Take-1]
	p := Proposal{TakeID: take.id, Made: l.Made, Style: l.Style, Rung: l.Rung, Coverage: l.Coverage, New: l.New, Percent: l.Percent,
		Pressure: l.Pressure, Wanted: l.Wanted, Why: l.Why}
	if err := cmp.Or(wrong(p.check()), dated("made", l.Made)); err != nil || m.tx == nil {
		return err
	}
	had, err := exists(m.ctx, m.tx, "SELECT EXISTS (SELECT 1 FROM proposals WHERE take_id = ?)", take.id)
	if err != nil || had {
		m.count.Had.Proposals++
		return err
	}
	m.count.Added.Proposals++
	if err := take.owner.addProposal(m.ctx, m.tx, p); err != nil {
		return fmt.Errorf("proposal: %w", err)
	}
	return nil
}
