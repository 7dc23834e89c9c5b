package journal

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
)

// exported is the journal in its portable form.
func exported(t testing.TB, j *Journal) string {
	t.Helper()
	var b bytes.Buffer
	if err := j.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// imported imports a portable journal.
func imported(t testing.TB, j *Journal, text string) Imported {
	t.Helper()
	got, err := j.Import(context.Background(), "j.jsonl", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// full is a journal that has all there is, of three players.
func full(t testing.TB) *Journal {
	t.Helper()
	ctx := context.Background()
	at := noon
	all := fresh(t)
	all.now = func() time.Time { at = at.Add(time.Minute); return at }
	for _, name := range []string{"", "Ann", "bø <&>"} {
		j := as(t, all, name)
		r := march("read of "+name, 3)
		r.Made, r.Measures, r.Length = time.Time{}, []uint64{5, 1<<64 - 1, 5}, 8
		r.Figures, r.Loads = []byte(`[{"shape":"step <up>"}]`), []byte("[1.5, 2]") // the second is not as compact as can be
		r.Request, r.Drilled = []byte(`{"seed":7}`), []byte(`{"drills":"AAA="}`)
		id := add(t, j, r, march("another of "+name, 0))[0]
		take, err := j.AddTake(ctx, Take{ReadID: id, Started: at, Outcome: KeptGoing, LateMedian: time.Microsecond, LateMax: time.Second,
			Dropped: 2, Percent: 70, Rubato: true, Pressure: []string{Panel, Cold}})
		other, err2 := j.AddTake(ctx, Take{ReadID: id, Started: at.Add(time.Second), Outcome: Left})
		err = errors.Join(err, err2,
			j.Mark(ctx, take, Marks{[]Slip{{0, true, false}, {7, true, true}}, 7}),
			j.Mark(ctx, other, Marks{nil, NotStopped}),
			j.KeepProposal(ctx, Proposal{TakeID: take, Style: "lyrical", Rung: 4, Coverage: 0.1 + 0.2, New: 1, Percent: 85,
				Pressure: []string{Cover}, Wanted: []byte(`{"a":[1,2.50]}`), Why: "because\nso"}),
			j.KeepLesson(ctx, time.Time{}, []byte("not JSON")), j.KeepLesson(ctx, time.Time{}, nil),
			j.KeepLatency(ctx, "device of "+name, 30*time.Millisecond))
		_, err3 := j.AddWarmup(ctx, Warmup{Day: "2026-03-01", Request: []byte(`{}`), Lines: []uint64{1, 1<<64 - 1}})
		for _, v := range []string{"z", "a", "z"} { // the second z replaces the first
			err = errors.Join(err, j.SaveVocabulary(ctx, Vocabulary{Name: v, Sheet: []byte("# ♭\n"), Drills: []Drill{
				{Title: "one", Melody: []byte{0, 255}, Runs: march(v, 2).Runs}, {Title: "two"}}}))
		}
		if err := errors.Join(err, err3); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

func TestImportOfExportIsTheSame(t *testing.T) {
	j := full(t)
	text := exported(t, j)
	other := fresh(t)
	got := imported(t, other, text)
	want := Imported{Added: Items{Players: 2, Reads: 6, Takes: 6, Marks: 6, Lessons: 6, Warmups: 3, Vocabularies: 6, Latencies: 3, Proposals: 3}}
	if got != want {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if again := exported(t, other); again != text {
		t.Errorf("exported\n%s\nimported and exported again\n%s", text, again)
	}
	for _, name := range []string{"", "Ann", "bø <&>"} {
		ctx := context.Background()
		a, b := as(t, j, name), as(t, other, name)
		for what, list := range map[string]func(*Journal) (any, error){
			"history":   func(j *Journal) (any, error) { return j.History(ctx) },
			"practised": func(j *Journal) (any, error) { return j.Practised(ctx) },
			"proposals": func(j *Journal) (any, error) { return j.Proposals(ctx) },
			"warm-ups":  func(j *Journal) (any, error) { return j.Warmups(ctx, 10) },
			"recent":    func(j *Journal) (any, error) { return j.Recent(ctx, 10) },
			"z":         func(j *Journal) (any, error) { return j.Vocabulary(ctx, "z") },
			"runs":      func(j *Journal) (any, error) { return j.Seen(ctx, 9, hashes(march("read of "+name, 3).Runs)) },
			"measures":  func(j *Journal) (any, error) { return j.SharedMeasures(ctx, []uint64{5, 6, 1<<64 - 1}) },
		} {
			before, err := list(a)
			after, err2 := list(b)
			if errors.Join(err, err2) != nil || !reflect.DeepEqual(before, after) {
				t.Errorf("player %q, %s: %v, %v, before\n%+v\nafter\n%+v", name, what, err, err2, before, after)
			}
		}
	}
}

func TestImportAgainAddsNothing(t *testing.T) {
	j := full(t)
	text := exported(t, j)
	want := Imported{Had: Items{Players: 2, Reads: 6, Takes: 6, Marks: 6, Lessons: 6, Warmups: 3, Vocabularies: 6, Latencies: 3, Proposals: 3}}
	if got := imported(t, j, text); got != want {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if again := exported(t, j); again != text {
		t.Errorf("before\n%s\nafter\n%s", text, again)
	}
}

// What two journals have grown apart by comes together, whichever is imported; marks,
// vocabularies and latencies that both have keep to the rule.
func TestImportMerges(t *testing.T) {
	ctx := context.Background()
	a := fresh(t)
	first := takeOf(t, as(t, a, "Ann"), "first")
	b := fresh(t)
	imported(t, b, exported(t, a))
	annA, annB := as(t, a, "Ann"), as(t, b, "ann")
	if annB.Player() != "Ann" {
		t.Fatalf("player %q", annB.Player())
	}
	later := func() time.Time { return noon.Add(time.Hour) }
	annB.now = later
	unmarked := Take{ReadID: 1, Started: noon.Add(time.Second), Ended: noon.Add(time.Minute), Outcome: KeptGoing}
	for _, j := range []*Journal{annA, annB} {
		if _, err := j.AddTake(ctx, unmarked); err != nil {
			t.Fatal(err)
		}
	}
	err := errors.Join(
		annB.Mark(ctx, first, Marks{[]Slip{{1, true, false}}, NotStopped}), // a keeps its own
		annB.Mark(ctx, 2, Marks{[]Slip{{2, true, false}}, NotStopped}),     // a has none
		annB.SaveVocabulary(ctx, Vocabulary{Name: "warm-up", Sheet: []byte("later")}),
		annA.KeepLatency(ctx, "x", time.Millisecond), annB.KeepLatency(ctx, "x", 2*time.Millisecond))
	if err != nil {
		t.Fatal(err)
	}
	takeOf(t, annB, "second")
	got := imported(t, a, exported(t, b))
	want := Imported{Added: Items{Reads: 1, Takes: 1, Marks: 2, Lessons: 1, Warmups: 1, Vocabularies: 1, Latencies: 1, Proposals: 1},
		Had: Items{Players: 1, Reads: 1, Takes: 2, Marks: 1, Lessons: 1, Warmups: 1, Proposals: 1}}
	if got != want {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if m := marked(t, annA, first) + "; " + marked(t, annA, 2); m != "true [] -1; true [{2 true false}] -1" {
		t.Errorf("marks %s", m)
	}
	v, err := annA.Vocabulary(ctx, "warm-up")
	if latency, _, err2 := a.Latency(ctx, "x"); string(v.Sheet) != "second" || latency != 2*time.Millisecond || errors.Join(err, err2) != nil {
		t.Errorf("vocabulary %q, latency %v, %v, %v", v.Sheet, latency, err, err2)
	}
	got = imported(t, b, exported(t, a))
	if got.Added != (Items{}) {
		t.Errorf("the other way round, all was there: %+v", got)
	}
}

// portable is lines between header and end.
func portable(lines ...string) string {
	all := append([]string{`{"kind":"header","format":"onward-journal","version":1}`}, lines...)
	return strings.Join(append(all, fmt.Sprintf(`{"kind":"end","lines":%d}`, len(all))), "\n") + "\n"
}

const (
	aPlayer = `{"kind":"player","name":"Ann","added":"2026-03-01T12:00:00Z"}`
	aRead   = `{"kind":"read","number":1,"identity":"i","title":"","style":"march","rung":1,"instrument":"x","made":"2026-03-01T12:00:00Z","measures":4}`
	aTake   = `{"kind":"take","number":1,"read":1,"started":"2026-03-01T12:00:00Z","ended":"2026-03-01T12:01:00Z","outcome":"left","late_median":0,"late_max":0,"dropped":0,"percent":100}`
)

func TestImportRefused(t *testing.T) {
	change := strings.NewReplacer
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "j.jsonl:1: the file ends without its last line"},
		{"no JSON", "x\n", "j.jsonl:1: the line is no JSON object"},
		{"a list", "[]\n", "j.jsonl:1: the line is no JSON object"},
		{"other JSON", "{}\n", `j.jsonl:1: no journal that was exported: the first line has no format "onward-journal"`},
		{"newer", `{"kind":"header","format":"onward-journal","version":3,"more":1}`, "j.jsonl:1: exported by a newer onward (version 3; this one knows 2): update onward"},
		{"no version", `{"kind":"header","format":"onward-journal"}`, "j.jsonl:1: "},
		{"cut short", strings.TrimSuffix(portable(aPlayer), "{\"kind\":\"end\",\"lines\":2}\n"), "j.jsonl:3: the file ends without its last line"},
		{"cut in a line", portable(aPlayer)[:100], "j.jsonl:2: the line is no JSON object"},
		{"a line lost", strings.Replace(portable(aPlayer), aPlayer+"\n", "", 1), "j.jsonl:2: there were 2 lines"},
		{"more after the end", portable() + "{}\n", "j.jsonl:3: a line after that of kind"},
		{"an empty line", portable(""), "j.jsonl:2: the line is no JSON object"},
		{"two headers", portable(`{"kind":"header","format":"onward-journal","version":1}`), "j.jsonl:2: a second header"},
		{"kind", portable(`{"kind":"song"}`), `j.jsonl:2: kind "song"`},
		{"UTF-8", portable("{\"kind\":\"\xff\"}"), "j.jsonl:2: the line is no UTF-8"},
		{"unknown name", portable(`{"kind":"player","name":"a","added":"2026-03-01T12:00:00Z","age":3}`), `j.jsonl:2: json: unknown field "age"`},
		{"a player twice", portable(aPlayer, aPlayer), `j.jsonl:3: player "Ann"`},
		{"a player without name", portable(change("Ann", "").Replace(aPlayer)), `j.jsonl:2: player ""`},
		{"an unlisted player", portable(change(`"number":1`, `"number":1,"player":"bo"`).Replace(aRead)), `j.jsonl:2: player "bo": no line before`},
		{"number", portable(change(`"number":1`, `"number":2`).Replace(aRead)), "j.jsonl:2: number 2: want 1"},
		{"no time", portable(change(`"made":"2026-03-01T12:00:00Z",`, "").Replace(aRead)), "j.jsonl:2: made: it has no time"},
		{"a bad time", portable(change("2026-03-01T12", "2026-13-01T12").Replace(aRead)), "j.jsonl:2: parsing time"},
		{"a run", portable(change(`"measures":4`, `"runs":["0 00000000000000ff 00000000000000ff 00"]`).Replace(aRead)), `j.jsonl:2: run "0 `},
		{"a past with itself", portable(change(`"measures":4`, `"past":[[1,1]]`).Replace(aRead)), "j.jsonl:2: past 1 to 1: want reads before this one"},
		{"a past twice", portable(aRead, change(`"number":1`, `"number":2`, `"measures":4`, `"past":[[1,1],[1,1]]`).Replace(aRead)), "j.jsonl:3: the past has a read twice"},
		{"a longer past twice", portable(aRead, change(`"number":1`, `"number":2`).Replace(aRead), change(`"number":1`, `"number":3`, `"measures":4`, `"past":[[1,2],[1,1]]`).Replace(aRead)), "j.jsonl:4: the past has a read twice"},
		{"a hash", portable(change(`"measures":4`, `"hashes":["ff"]`).Replace(aRead)), `j.jsonl:2: hash "ff"`},
		{"base 64", portable(change(`"measures":4`, `"melody":"?"`).Replace(aRead)), "j.jsonl:2: illegal base64"},
		{"a take of no read", portable(aTake), "j.jsonl:2: read 1: no line before"},
		{"outcome", portable(aRead, change(`"left"`, `"won"`).Replace(aTake)), `j.jsonl:3: outcome "won"`},
		{"percent", portable(aRead, change(`"percent":100`, `"percent":7`).Replace(aTake)), "j.jsonl:3: 7 % of"},
		{"pressure", portable(aRead, change(`"percent":100`, `"percent":100,"pressure":["x"]`).Replace(aTake)), `j.jsonl:3: pressure "x"`},
		{"a slip", portable(aRead, change(`"percent":100`, `"percent":100,"marks":{"marked":"2026-03-01T12:00:00Z","stopped_at":-1,"slips":[{"measure":4,"pitch":true,"rhythm":false}]}`).Replace(aTake)), "j.jsonl:3: a slip in measure index 4"},
		{"a read after takes", portable(aRead, aTake, change(`"number":1`, `"number":2`, `"i"`, `"k"`).Replace(aRead), change(`"number":1,"read":1`, `"number":2,"read":2`).Replace(aTake)), "j.jsonl:5: a take among the reads"},
		{"a day", portable(`{"kind":"warm-up","day":"today","made":"2026-03-01T12:00:00Z"}`), `j.jsonl:2: day "today"`},
		{"a drill of nothing", portable(`{"kind":"drill","vocabulary":1,"title":"x","learned":"2026-03-01T12:00:00Z"}`), "j.jsonl:2: vocabulary 1"},
		{"a drill among others", portable(`{"kind":"vocabulary","number":1,"name":"a","saved":"2026-03-01T12:00:00Z","sheet":""}`,
			`{"kind":"vocabulary","number":2,"name":"b","saved":"2026-03-01T12:00:00Z","sheet":""}`,
			`{"kind":"drill","vocabulary":2,"title":"x","learned":"2026-03-01T12:00:00Z"}`,
			`{"kind":"drill","vocabulary":1,"title":"x","learned":"2026-03-01T12:00:00Z"}`), "j.jsonl:5: a drill of vocabulary 1 after other lines"},
		{"a file's name", portable(`{"kind":"vocabulary","number":1,"name":"a.toml","saved":"2026-03-01T12:00:00Z","sheet":""}`), `j.jsonl:2: vocabulary "a.toml"`},
		{"latency", portable(`{"kind":"latency","sink":"x","millis":2000,"kept":"2026-03-01T12:00:00Z"}`), `j.jsonl:2: latency of "x"`},
		{"a proposal after no take", portable(`{"kind":"proposal","take":1,"made":"2026-03-01T12:00:00Z","style":"march","rung":1,"coverage":0,"new":0,"percent":100}`), "j.jsonl:2: take 1"},
		{"coverage", portable(aRead, aTake, `{"kind":"proposal","take":1,"made":"2026-03-01T12:00:00Z","style":"march","rung":1,"coverage":2,"new":0,"percent":100}`), "j.jsonl:4: coverage 2"},
		{"the last of many", portable(aPlayer, aRead, aTake, `{"kind":"lesson"}`), "j.jsonl:5: learned: it has no time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := fresh(t)
			takeOf(t, as(t, j, "bo"), "before")
			before := exported(t, j)
			_, err := j.Import(context.Background(), "j.jsonl", strings.NewReader(c.text))
			var line *LineError
			if !errors.As(err, &line) || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if after := exported(t, j); after != before {
				t.Errorf("something was imported:\n%s", after)
			}
		})
	}
	if got := imported(t, fresh(t), portable(aPlayer, aRead, aTake)); got.Added.Takes != 1 {
		t.Errorf("the lines that were changed are wrong before: %+v", got)
	}
}

func TestImportLimits(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	long := strings.NewReader(strings.SplitAfter(portable(), "\n")[0] + strings.Repeat(" ", maxLine+1))
	if _, err := j.Import(ctx, "j", long); err == nil || !strings.HasPrefix(err.Error(), "j:2: the line is longer than 64 MiB") {
		t.Errorf("a long line: %v", err)
	}
	err := j.write(ctx, func(tx *sql.Tx) error {
		m := newImporter(ctx, j)
		m.tx, m.limit = tx, 3
		return m.file("j", strings.NewReader(portable(aRead, aTake)), m.line)
	})
	if err == nil || !strings.HasPrefix(err.Error(), "j:4: more than 3 lines") {
		t.Errorf("many lines: %v", err)
	}
}

// A read error is not the file's fault.
func TestImportFails(t *testing.T) {
	broken := struct {
		io.Reader
		io.Seeker
	}{io.MultiReader(strings.NewReader(strings.SplitAfter(portable(), "\n")[0]+`{"ki`), failing{}), nil}
	_, err := fresh(t).Import(context.Background(), "j", broken)
	var line *LineError
	if err == nil || errors.As(err, &line) || !strings.Contains(err.Error(), "import j: the disk is gone") {
		t.Errorf("got %v", err)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error)  { return 0, errors.New("the disk is gone") }
func (failing) Write([]byte) (int, error) { return 0, errors.New("the disk is full") }

func TestExportFails(t *testing.T) {
	if err := full(t).Export(context.Background(), failing{}); err == nil || !strings.Contains(err.Error(), "export: the disk is full") {
		t.Errorf("got %v", err)
	}
}

// FuzzImport: whatever is imported, it is refused and nothing changes, or what is exported
// then can be imported and exported again as it is.
func FuzzImport(f *testing.F) {
	f.Add(exported(f, full(f)))
	f.Add(portable(aPlayer, aRead, aTake))
	f.Add(portable(`{"kind":"lesson","learned":"2026-03-01T12:00:00+01:00","figures":[ 1 ]}`))
	j, other := fresh(f), fresh(f)
	for _, each := range []*Journal{j, other} {
		if _, err := each.db.Exec("PRAGMA synchronous = OFF"); err != nil { // thousands of times
			f.Fatal(err)
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		empty(t, j)
		if _, err := j.Import(context.Background(), "j", strings.NewReader(text)); err != nil {
			if after := exported(t, j); after != portable() {
				t.Fatalf("refused (%v), and yet imported:\n%s", err, after)
			}
			return
		}
		first := exported(t, j)
		empty(t, other)
		imported(t, other, first)
		if second := exported(t, other); second != first {
			t.Errorf("exported\n%s\nimported and exported\n%s", first, second)
		}
	})
}

// empty takes all out of a journal.
func empty(t testing.TB, j *Journal) {
	t.Helper()
	for _, table := range []string{"proposals", "marks", "takes", "read_figures", "read_loads", "requests", "drilled", "runs", "measures", "reads",
		"lessons", "warmups", "vocabularies", "latencies", "players"} {
		if _, err := j.db.Exec("DELETE FROM " + table); err != nil {
			t.Fatal(err)
		}
	}
}

// checkLines is what another reader of JSON makes of a portable journal.
const checkLines = `
import json, sys
kinds = {}
lines = open(sys.argv[1], encoding="utf-8").read().split("\n")
assert lines.pop() == ""
for number, line in enumerate(lines):
    item = json.loads(line)
    assert (item["kind"] == "header") == (number == 0), number
    if item["kind"] == "end":
        assert number == len(lines) - 1 == item["lines"], item
    kinds[item["kind"]] = kinds.get(item["kind"], 0) + 1
reads = [json.loads(line) for line in lines if '"kind":"read"' in line]
assert reads[0]["figures"] == [{"shape": "step <up>"}], reads[0]["figures"]
print(" ".join(f"{kind}={n}" for kind, n in sorted(kinds.items())))
`

// TestExportForPython reads an export by Python's own JSON.
func TestExportForPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("ONWARD_OUTSIDE") != "" {
			t.Fatal("python3 is not here")
		}
		t.Skip("python3 is not here: it reads the export, too")
	}
	name := filepath.Join(t.TempDir(), "j.jsonl")
	if err := os.WriteFile(name, []byte(exported(t, full(t))), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "-c", checkLines, name).CombinedOutput()
	const want = "drill=12 drilled=1 end=1 header=1 latency=3 lesson=6 player=2 proposal=3 read=6 take=6 vocabulary=6 warm-up=3\n"
	if err != nil || string(out) != want {
		t.Errorf("got  %s, %v\nwant %s", out, err, want)
	}
}

// An opaque that is JSON stands as it is, and a reader may lay it out anew.
func TestOpaque(t *testing.T) {
	for bytes, want := range map[string]string{
		`{"a":1}`: `{"a":1}`, `[]`: `[]`, `[ ]`: `"WyBd"`, `"x"`: `"Ing+"`, "": `""`, "[": `"Ww=="`, "\xff": `"/w=="`, `["<"]`: `["<"]`,
	} {
		var b strings.Builder
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		if err := e.Encode(opaque(bytes)); err != nil {
			t.Fatal(err)
		}
		var back opaque
		if err := json.Unmarshal([]byte(b.String()), &back); err != nil || b.String() != want+"\n" && bytes != `"x"` || string(back) != bytes {
			t.Errorf("%q: %s, back %q, %v; want %s", bytes, b.String(), back, err, want)
		}
	}
	var laid opaque
	if err := json.Unmarshal([]byte("{ \"a\" :\n1}"), &laid); err != nil || string(laid) != `{"a":1}` {
		t.Errorf("laid out anew: %s, %v", laid, err)
	}
}
