package quality_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"onward/compose/musicxml"
	"onward/compose/score"
)

// beside is the folder of reference figures and sample scores, beside this tree.
const beside = "../../../shared"

// A corpus is one set of real melodies in the reference file; shares are percentages.
type corpus struct {
	Label      string         `json:"label"`
	Melodies   int            `json:"melodies"`
	Notes      int            `json:"notes"`
	Meters     map[string]int `json:"meters"`
	Signed     tally          `json:"interval_signed_pct"`
	Repeat     float64        `json:"repeat_pct"`
	Step       float64        `json:"step_pct"`
	Leap       float64        `json:"leap_ge3_pct"`
	AfterLeap  tally          `json:"after_leap_gt5"`
	AfterStep  tally          `json:"after_step"`
	Positions  tally          `json:"onset_position_pct"`
	Finals     tally          `json:"final_degree_pct"`
	Starts     tally          `json:"start_degree_pct"`
	Range      spread         `json:"range_semitones"`
	Largest    spread         `json:"largest_leap_per_melody"`
	OutOfKey   float64        `json:"out_of_key_notes_pct"`
	PerMeasure float64        `json:"notes_per_sounding_bar"`
	Contour    []float64      `json:"phrase_contour_mean_11pt"`
	Shapes     tally          `json:"phrase_shape_pct"`
	Durations  tally          `json:"duration_quarters_pct"`
	PerMelody  map[string]quantileRow
	Rhythms    map[string]rhythmList `json:"common_full_bar_rhythms"`
}

// A spread is a quantity's mean and some quantiles; p10 is missing for leaps.
type spread struct {
	Mean   float64  `json:"mean"`
	Median float64  `json:"median"`
	P10    *float64 `json:"p10"`
	P90    *float64 `json:"p90"`
}

type quantileRow struct {
	P5     float64 `json:"p5"`
	P25    float64 `json:"p25"`
	Median float64 `json:"median"`
	P75    float64 `json:"p75"`
	P95    float64 `json:"p95"`
}

// A rhythmList is the commonest measure rhythms and their shares.
type rhythmList tally

// UnmarshalJSON reads [["1 1", 23.5], ...].
func (r *rhythmList) UnmarshalJSON(b []byte) error {
	var rows [][2]any
	if err := json.Unmarshal(b, &rows); err != nil {
		return err
	}
	*r = rhythmList{}
	for _, row := range rows {
		name, okName := row[0].(string)
		pct, okPct := row[1].(float64)
		if !okName || !okPct {
			return fmt.Errorf("rhythm %v: want a text and a number", row)
		}
		(*r)[name] = pct
	}
	return nil
}

// A formRow is a corpus's figures of form.
type formRow struct {
	Pieces   int                `json:"pieces"`
	Rhythm   map[string]float64 `json:"rhythm"`
	Shape    map[string]float64 `json:"shape"`
	Same     map[string]float64 `json:"same"`
	Distinct float64            `json:"distinct_rhythms_per_16"`
	Run      float64            `json:"longest_run_of_one_rhythm"`
}

// A reference is the whole file.
type reference struct {
	corpora map[string]*corpus
	form    map[string]*formRow
}

// absent skips the test, or fails it where ONWARD_OUTSIDE=1 asks for the data.
func absent(tb testing.TB, why string) {
	tb.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		tb.Fatal(why)
	}
	tb.Skip(why)
}

// openReference reads the reference file.
func openReference(tb testing.TB) *reference {
	tb.Helper()
	text, err := os.ReadFile(filepath.Join(beside, "melody-stats.json"))
	if err != nil {
		absent(tb, "the figures of real melodies are not beside this tree: "+err.Error())
	}
	var file struct {
		Corpora map[string]*struct {
			corpus
			PerMelody map[string]quantileRow `json:"per_melody_distribution"`
		} `json:"corpora"`
		Form map[string]json.RawMessage `json:"form"`
	}
	if err := json.Unmarshal(text, &file); err != nil {
		tb.Fatal(err)
	}
	ref := &reference{map[string]*corpus{}, map[string]*formRow{}}
	for name, c := range file.Corpora {
		c.corpus.PerMelody = c.PerMelody
		ref.corpora[name] = &c.corpus
	}
	for name, raw := range file.Form {
		if name == "method" {
			continue
		}
		row := &formRow{}
		if err := json.Unmarshal(raw, row); err != nil {
			tb.Fatalf("form %s: %v", name, err)
		}
		ref.form[name] = row
	}
	return ref
}

// samples reads the first part of every sample score of a folder.
func samples(tb testing.TB, folder string) map[string]*score.Part {
	tb.Helper()
	names, err := filepath.Glob(filepath.Join(beside, "samples", folder, "*.musicxml"))
	if err != nil {
		tb.Fatal(err)
	}
	if len(names) == 0 {
		absent(tb, "the sample scores are not beside this tree")
	}
	out := map[string]*score.Part{}
	for _, name := range names {
		text, err := os.Open(name)
		if err != nil {
			tb.Fatal(err)
		}
		s, _, err := musicxml.Read(text)
		text.Close()
		if err != nil {
			tb.Fatalf("%s: %v", name, err)
		}
		out[filepath.Base(name)] = &s.Parts[0]
	}
	return out
}
