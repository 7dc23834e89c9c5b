package journal

import (
	"cmp"
	"context"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// warmUp is a vocabulary of two drills.
func warmUp() Vocabulary {
	scales, chords := march("scales", 4), march("chords", 3)
	for _, runs := range [][]Run{scales.Runs, chords.Runs} {
		slices.SortFunc(runs, func(a, b Run) int { return cmp.Compare(int64(a.Hash), int64(b.Hash)) })
	}
	return Vocabulary{
		Name: "warm-up", Saved: noon.Add(-time.Minute), Sheet: []byte("[figure.turn]\nknown = 0.8\n"),
		Drills: []Drill{
			{Title: "Scales", Learned: noon.Add(-time.Hour), Melody: []byte{1, 2}, Runs: scales.Runs},
			{Title: "Chords", Learned: noon.Add(-time.Hour), Melody: []byte{3}, Runs: chords.Runs},
		},
	}
}

// save saves a vocabulary or ends the test.
func save(t *testing.T, j *Journal, v Vocabulary) {
	t.Helper()
	if err := j.SaveVocabulary(context.Background(), v); err != nil {
		t.Fatal(err)
	}
}

func TestVocabularyComesBackAsItWasSaved(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	want := warmUp()
	save(t, j, want)
	save(t, j, Vocabulary{Name: "empty"})
	j = reopened(t, j)
	got, err := j.Vocabulary(ctx, "warm-up")
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v, error %v\nwant %+v", got, err, want)
	}
	if n := len(got.Runs()); n != 7 {
		t.Errorf("%d runs, want the 4 of one drill and the 3 of the other", n)
	}
	all, err := j.Vocabularies(ctx)
	if err != nil || len(all) != 2 || all[0].Name != "empty" || all[1].Name != "warm-up" {
		t.Errorf("got %+v, error %v; want empty, warm-up", all, err)
	}
	if !all[0].Saved.Equal(noon) {
		t.Errorf("saved %v without a date, want the clock's %v", all[0].Saved, noon)
	}
}

func TestSavedVocabularyReplacesItsNamesake(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	save(t, j, warmUp())
	again := warmUp()
	again.Sheet = []byte("new")
	again.Drills = again.Drills[1:]
	save(t, j, again)
	got, err := j.Vocabulary(ctx, "warm-up")
	if err != nil || !reflect.DeepEqual(got, again) {
		t.Errorf("got  %+v, error %v\nwant %+v", got, err, again)
	}
	var left int
	if err := j.db.QueryRow("SELECT count(*) FROM drill_runs").Scan(&left); err != nil || left != 3 {
		t.Errorf("%d drilled runs are kept, error %v; want the 3 of the drill that stays", left, err)
	}

	broken := warmUp()
	broken.Drills[1].Runs[0].Length = -1
	if err := j.SaveVocabulary(ctx, broken); err == nil {
		t.Fatal("a run of -1 notes was not refused")
	}
	if got, err := j.Vocabulary(ctx, "warm-up"); err != nil || !reflect.DeepEqual(got, again) {
		t.Errorf("after a failed save: got %+v, error %v; want the earlier one", got, err)
	}
}

func TestDrilledRunsAreNoReads(t *testing.T) {
	j := fresh(t)
	save(t, j, warmUp())
	seen, err := j.Seen(context.Background(), 9, hashes(warmUp().Runs()))
	if err != nil || len(seen) != 0 {
		t.Errorf("seen %x, error %v; a vocabulary forbids its runs only where it is named", seen, err)
	}
}

func TestVocabularyNames(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	if _, err := j.Vocabulary(ctx, "scales"); err == nil || !strings.Contains(err.Error(), "onward learn FILE --save NAME") {
		t.Errorf("none saved: %v; want how to save one", err)
	}
	save(t, j, warmUp())
	const want = `vocabulary "scales": none is saved under this name: choose from warm-up`
	if _, err := j.Vocabulary(ctx, "scales"); err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	for _, name := range []string{"", "  ", "a/b", `a\b`, "a.toml", "a\nb"} {
		var wrong *NameError
		if err := j.SaveVocabulary(ctx, Vocabulary{Name: name}); !errors.As(err, &wrong) {
			t.Errorf("name %q: got %v, want a *NameError", name, err)
		}
	}
	save(t, j, Vocabulary{Name: "Größe 1, ♭"})
	if _, err := j.Vocabulary(ctx, "Größe 1, ♭"); err != nil {
		t.Error(err)
	}
}
