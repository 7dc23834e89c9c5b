package journal

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// The portable journal is lines of JSON, an object each, whose kind says what it is. The
// first is the header and the last the end, which counts the lines before it, so that a file
// cut short shows. Between them stand players, what was drilled when reads were made, reads,
// takes, lessons, warm-ups, vocabularies, drills, latencies and proposals, in this order and
// oldest first. What was drilled, reads, takes and vocabularies are numbered from 1, each
// kind apart, and referred to by number. Version 1 did not say what reads were kept clear of.
const (
	Format        = "onward-journal"
	formatVersion = 2

	maxLine  = 64 << 20   // bytes
	maxLines = 10_000_000 // in a file
)

// The kinds of lines.
const (
	kindHeader     = "header"
	kindPlayer     = "player"
	kindDrilled    = "drilled"
	kindRead       = "read"
	kindTake       = "take"
	kindLesson     = "lesson"
	kindWarmup     = "warm-up"
	kindVocabulary = "vocabulary"
	kindDrill      = "drill"
	kindLatency    = "latency"
	kindProposal   = "proposal"
	kindEnd        = "end"
)

type headerLine struct {
	Kind    string `json:"kind"`
	Format  string `json:"format"`
	Version int    `json:"version"`
}

type playerLine struct {
	Kind  string    `json:"kind"`
	Name  string    `json:"name"`
	Added time.Time `json:"added"`
}

type drilledLine struct {
	Kind   string `json:"kind"`
	Number int    `json:"number"`
	Body   opaque `json:"body"`
}

type readLine struct {
	Kind       string    `json:"kind"`
	Number     int       `json:"number"`
	Player     string    `json:"player,omitempty"`
	Identity   string    `json:"identity"`
	Title      string    `json:"title"`
	Style      string    `json:"style"`
	Rung       int       `json:"rung"`
	Instrument string    `json:"instrument"`
	Made       time.Time `json:"made"`
	Length     int       `json:"measures"`
	Figures    opaque    `json:"figures,omitempty"`
	Loads      opaque    `json:"loads,omitempty"`
	Request    opaque    `json:"request,omitempty"`
	Drilled    int       `json:"drilled,omitempty"` // number; 0 for nothing
	Past       []span    `json:"past"`              // see Read.Past: numbers; null where it is not known
	Melody     opaque    `json:"melody,omitempty"`
	Hashes     []hash    `json:"hashes,omitempty"` // of its measures
	Runs       []run     `json:"runs,omitempty"`
}

type takeLine struct {
	Kind       string     `json:"kind"`
	Number     int        `json:"number"`
	Player     string     `json:"player,omitempty"`
	Read       int        `json:"read"` // number
	Started    time.Time  `json:"started"`
	Ended      time.Time  `json:"ended"`
	Outcome    Outcome    `json:"outcome"`
	LateMedian int64      `json:"late_median"` // nanoseconds
	LateMax    int64      `json:"late_max"`    // nanoseconds
	Dropped    int        `json:"dropped"`
	Percent    int        `json:"percent"`
	Rubato     bool       `json:"rubato,omitempty"`
	Pressure   []string   `json:"pressure,omitempty"`
	Marks      *marksLine `json:"marks,omitempty"`
}

type marksLine struct {
	Marked    time.Time  `json:"marked"`
	StoppedAt int        `json:"stopped_at"` // measure from 0, -1 for none
	Slips     []slipLine `json:"slips"`
}

type slipLine struct {
	Measure int  `json:"measure"` // from 0
	Pitch   bool `json:"pitch"`
	Rhythm  bool `json:"rhythm"`
}

type lessonLine struct {
	Kind    string    `json:"kind"`
	Player  string    `json:"player,omitempty"`
	Learned time.Time `json:"learned"`
	Figures opaque    `json:"figures,omitempty"`
}

type warmupLine struct {
	Kind    string    `json:"kind"`
	Player  string    `json:"player,omitempty"`
	Day     string    `json:"day"`
	Made    time.Time `json:"made"`
	Request opaque    `json:"request,omitempty"`
	Lines   []hash    `json:"lines,omitempty"`
}

type vocabularyLine struct {
	Kind   string    `json:"kind"`
	Number int       `json:"number"`
	Player string    `json:"player,omitempty"`
	Name   string    `json:"name"`
	Saved  time.Time `json:"saved"`
	Sheet  string    `json:"sheet"` // TOML
}

type drillLine struct {
	Kind       string    `json:"kind"`
	Vocabulary int       `json:"vocabulary"` // number
	Title      string    `json:"title"`
	Learned    time.Time `json:"learned"`
	Melody     opaque    `json:"melody,omitempty"`
	Runs       []run     `json:"runs,omitempty"`
}

type latencyLine struct {
	Kind   string    `json:"kind"`
	Sink   string    `json:"sink"`
	Millis int64     `json:"millis"`
	Kept   time.Time `json:"kept"`
}

type proposalLine struct {
	Kind     string    `json:"kind"`
	Take     int       `json:"take"` // number
	Made     time.Time `json:"made"`
	Style    string    `json:"style"`
	Rung     int       `json:"rung"`
	Coverage float64   `json:"coverage"`
	New      int       `json:"new"`
	Percent  int       `json:"percent"`
	Pressure []string  `json:"pressure,omitempty"`
	Wanted   opaque    `json:"wanted,omitempty"`
	Why      string    `json:"why,omitempty"`
}

type endLine struct {
	Kind  string `json:"kind"`
	Lines int    `json:"lines"` // before this one
}

// An opaque is bytes in a maker's own encoding: what is a JSON object or array stands as it
// is, all else as text in base 64.
type opaque []byte

// MarshalJSON implements json.Marshaler.
func (o opaque) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	if len(o) > 0 && (o[0] == '{' || o[0] == '[') && json.Compact(&b, o) == nil && bytes.Equal(b.Bytes(), o) {
		return o, nil
	}
	return json.Marshal([]byte(o))
}

// UnmarshalJSON implements json.Unmarshaler.
func (o *opaque) UnmarshalJSON(text []byte) error {
	if text[0] == '{' || text[0] == '[' {
		var b bytes.Buffer
		err := json.Compact(&b, text)
		*o = b.Bytes()
		return err
	}
	var s string
	if err := json.Unmarshal(text, &s); err != nil {
		return fmt.Errorf("want an object, a list, or text in base 64")
	}
	b, err := base64.StdEncoding.Strict().DecodeString(s)
	*o = b
	return err
}

// A hash is 64 bits, 16 hexadecimal digits in the file.
type hash uint64

// MarshalText implements encoding.TextMarshaler.
func (h hash) MarshalText() ([]byte, error) { return fmt.Appendf(nil, "%016x", uint64(h)), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (h *hash) UnmarshalText(text []byte) error {
	n, err := strconv.ParseUint(string(text), 16, 64)
	if err != nil || len(text) != 16 {
		return fmt.Errorf("hash %q: want 16 hexadecimal digits", text)
	}
	*h = hash(n)
	return nil
}

// A run is written as its length in notes, hash, hash of its rhythm, and its intervals, the
// last three hexadecimal: "9 00000000000000ff 00000000000000fe 02fe".
type run Run

// MarshalText implements encoding.TextMarshaler.
func (r run) MarshalText() ([]byte, error) {
	return fmt.Appendf(nil, "%d %016x %016x %x", r.Length, r.Hash, r.Rhythm, r.Intervals), nil
}

// UnmarshalText implements encoding.TextUnmarshaler.
func (r *run) UnmarshalText(text []byte) error {
	parts := strings.Split(string(text), " ")
	if len(parts) != 4 {
		return fmt.Errorf("run %q: want length, hash, rhythm and intervals", text)
	}
	var sum, rhythm hash
	length, err := strconv.Atoi(parts[0])
	if err != nil || length < 1 {
		return fmt.Errorf("run %q: length %q: want notes, 1 or more", text, parts[0])
	}
	if err := sum.UnmarshalText([]byte(parts[1])); err != nil {
		return fmt.Errorf("run %q: %w", text, err)
	}
	if err := rhythm.UnmarshalText([]byte(parts[2])); err != nil {
		return fmt.Errorf("run %q: %w", text, err)
	}
	intervals, err := hex.DecodeString(parts[3])
	if err != nil {
		return fmt.Errorf("run %q: intervals: %w", text, err)
	}
	*r = run{length, uint64(sum), uint64(rhythm), intervals}
	return nil
}
