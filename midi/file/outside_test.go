package file

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"onward/midi/timeline"
)

// outside is the folder of the programs by others that tests compare with.
const outside = "../../testdata/outside"

// absent skips the test, or fails it where ONWARD_OUTSIDE=1 asks for the programs.
func absent(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// heardNote is a note as another program reads it.
type heardNote struct {
	At, End                int64
	Channel, Key, Velocity int
}

// heardSong is a file as midifile.mjs prints it.
type heardSong struct {
	Format, Division int
	Tracks           []struct {
		Name               string
		Notes              []heardNote
		Unclosed, Unopened int
		End                int64
	}
	Texts, Markers []struct {
		At   int64
		Text string
	}
	Tempos []struct{ At, Micros int64 }
	Meters []struct{ At, Beats, Unit int64 }
	Keys   []struct {
		At, Fifths int64
		Minor      bool
	}
}

// notesOf pairs the events of one track.
func notesOf(line *timeline.Timeline, track int) []heardNote {
	var notes []heardNote
	open := map[[2]uint8]int{}
	for _, e := range line.Events {
		k := [2]uint8{e.Channel, e.A}
		switch {
		case int(e.Track) != track:
		case e.Kind == timeline.NoteOn:
			open[k] = len(notes)
			notes = append(notes, heardNote{int64(e.At), -1, int(e.Channel), int(e.A), int(e.B)})
		case e.Kind == timeline.NoteOff:
			notes[open[k]].End = int64(e.At)
		}
	}
	return notes
}

// The npm package midi-file 1.2.4 reads in our files what we wrote: every note with
// its end, tempos, meters, keys and markers.
func TestMidiFileAgrees(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		absent(t, "node is not installed; it reads our files with a program by others")
	}
	if _, err := os.Stat(filepath.Join(outside, "node_modules", "midi-file")); err != nil {
		absent(t, "run npm ci --prefix testdata/outside to compare with midi-file")
	}
	line := take(t, march)
	name := filepath.Join(t.TempDir(), "march.mid")
	if err := os.WriteFile(name, write(t, line), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(node, filepath.Join(outside, "midifile.mjs"), name).Output()
	if err != nil {
		t.Fatalf("%v %s", err, stderr(err))
	}
	var song heardSong
	if err := json.Unmarshal(out, &song); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	compareTracks(t, line, song)
	compareMaps(t, line, song)
}

func stderr(err error) []byte {
	if e, ok := err.(*exec.ExitError); ok {
		return e.Stderr
	}
	return nil
}

func compareTracks(t *testing.T, line *timeline.Timeline, song heardSong) {
	t.Helper()
	if song.Format != 1 || song.Division != 10080 || len(song.Tracks) != len(line.Tracks)+1 {
		t.Fatalf("type %d, division %d, %d tracks", song.Format, song.Division, len(song.Tracks))
	}
	for i, track := range song.Tracks {
		if track.Unclosed != 0 || track.Unopened != 0 || track.End != int64(line.End) {
			t.Errorf("track %d: %d notes open, %d ends alone, end at %d, want %d", i, track.Unclosed, track.Unopened, track.End, line.End)
		}
		if i == 0 {
			if track.Name != "A Read" || len(track.Notes) != 0 {
				t.Errorf("the first track is %q with %d notes", track.Name, len(track.Notes))
			}
			continue
		}
		if want := notesOf(line, i-1); track.Name != line.Tracks[i-1] || len(want) == 0 || !reflect.DeepEqual(track.Notes, want) {
			t.Errorf("track %q\n got %v\nwant %q %v", track.Name, track.Notes, line.Tracks[i-1], want)
		}
	}
}

func compareMaps(t *testing.T, line *timeline.Timeline, song heardSong) {
	t.Helper()
	var got, want []string
	for _, c := range song.Tempos {
		got = append(got, fmt.Sprintln("tempo", c.At, c.Micros))
	}
	for _, c := range line.Tempos {
		want = append(want, fmt.Sprintln("tempo", c.At, c.MicrosPerQuarter))
	}
	for _, c := range song.Meters {
		got = append(got, fmt.Sprintln("meter", c.At, c.Beats, c.Unit))
	}
	for _, c := range line.Meters {
		want = append(want, fmt.Sprintln("meter", c.At, c.Meter.Beats, c.Meter.Unit))
	}
	for _, c := range song.Keys {
		got = append(got, fmt.Sprintln("key", c.At, c.Fifths, c.Minor))
	}
	for _, c := range line.Keys {
		want = append(want, fmt.Sprintln("key", c.At, c.Key.Fifths, c.Key.Mode == 1))
	}
	for _, c := range song.Markers {
		got = append(got, fmt.Sprintln("marker", c.At, c.Text))
	}
	for _, c := range line.Markers {
		want = append(want, fmt.Sprintln("marker", c.At, c.Text))
	}
	if len(song.Texts) != 1 || song.Texts[0].Text != "seed 1 rung 3" {
		t.Errorf("identity %v", song.Texts)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

// Debian's midicsv, written in C, finds the same note-ons, note-offs and tempos.
func TestMidicsvAgrees(t *testing.T) {
	midicsv, err := exec.LookPath("midicsv")
	if err != nil {
		t.Skip("midicsv is not installed; it is a second program to compare with")
	}
	line := take(t, march)
	name := filepath.Join(t.TempDir(), "march.mid")
	if err := os.WriteFile(name, write(t, line), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(midicsv, name).Output()
	if err != nil {
		t.Fatalf("%v %s", err, stderr(err))
	}
	r := csv.NewReader(bytes.NewReader(out))
	r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = -1, true, true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range rows {
		if row[2] == "Note_on_c" || row[2] == "Note_off_c" {
			got = append(got, strings.Join(row[:5], " "))
		}
	}
	if want := csvNotes(line); !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

// csvNotes says the notes as midicsv does: track, place, what, channel, key.
func csvNotes(line *timeline.Timeline) []string {
	var rows []string
	for track := range line.Tracks {
		for _, e := range line.Events {
			if int(e.Track) != track || e.Kind > timeline.NoteOn {
				continue
			}
			what := [...]string{"Note_off_c", "Note_on_c"}[e.Kind]
			rows = append(rows, strings.Join([]string{
				strconv.Itoa(track + 2), strconv.Itoa(int(e.At)), what, strconv.Itoa(int(e.Channel)), strconv.Itoa(int(e.A)),
			}, " "))
		}
	}
	return rows
}
