package tune

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
)

// fileTicks is the number of ticks that a quarter has in rows.
const fileTicks = 48

// A Row is a whole melody as a file holds it, one JSON object a line.
type Row struct {
	ID     string
	Kind   string // "march", "song", "vocalise", "dance"
	Meter  [2]int
	Fifths int
	Mode   string
	Bars   []int    // the start of each measure; the first may lie ahead of a pickup
	Notes  [][3]int // onset, ticks, MIDI number; 48 ticks a quarter
}

// Rows reads melodies, one JSON object a line. An error says the line.
func Rows(r io.Reader) ([]*Row, error) {
	var all []*Row
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 1<<24)
	for n := 1; lines.Scan(); n++ {
		row := new(Row)
		if err := json.Unmarshal(lines.Bytes(), row); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if len(row.Notes) == 0 || len(row.Bars) == 0 || row.Meter[0] <= 0 || row.Meter[1] <= 0 {
			return nil, fmt.Errorf("line %d: melody %q lacks notes, bars or meter", n, row.ID)
		}
		all = append(all, row)
	}
	return all, lines.Err()
}

// sung reports whether a row is a vocal line, whose phrases breathe with words.
func (r *Row) sung() bool { return r.Kind == "song" || r.Kind == "vocalise" }

// measure reports the file ticks of a measure.
func (r *Row) measure() int { return 4 * fileTicks * r.Meter[0] / r.Meter[1] }

// Tunes reports all tunes of 8, 16 and 32 measures that the row holds, those of each
// length apart from each other.
func (r *Row) Tunes() []*Tune {
	if r.sung() {
		return r.windows()
	}
	return r.sections()
}
