package synth

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"onward/midi/file"
	"onward/midi/timeline"
)

// only takes the events of t that hold, and keeps all else.
func only(t *timeline.Timeline, holds func(timeline.Event) bool) *timeline.Timeline {
	part := *t
	part.Events = slices.DeleteFunc(slices.Clone(t.Events), func(e timeline.Event) bool { return !holds(e) })
	return &part
}

// struckAt reports the seconds at which notes of the keys begin on channel 10 of a MIDI
// file, as the program midicsv reads it, its tempo map worked out here.
func struckAt(t *testing.T, midicsv, path string, keys ...int) []float64 {
	t.Helper()
	out, err := exec.Command(midicsv, path).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := csv.NewReader(bytes.NewReader(out))
	lines.FieldsPerRecord, lines.TrimLeadingSpace, lines.LazyQuotes = -1, true, true
	rows, err := lines.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) int {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	type tempo struct{ at, micros int }
	tempos, division := []tempo{{0, 500_000}}, 0
	var ticks []int
	for _, row := range rows {
		switch row[2] {
		case "Header":
			division = number(row[5])
		case "Tempo":
			tempos = append(tempos, tempo{number(row[1]), number(row[3])})
		case "Note_on_c":
			if number(row[3]) == percussionChannel && number(row[5]) > 0 && slices.Contains(keys, number(row[4])) {
				ticks = append(ticks, number(row[1]))
			}
		}
	}
	slices.Sort(ticks)
	var seconds []float64
	for _, tick := range ticks {
		var sum float64
		for i, c := range tempos {
			if c.at >= tick && i > 0 {
				break
			}
			end := tick
			if i+1 < len(tempos) {
				end = min(end, tempos[i+1].at)
			}
			sum += float64(end-c.at) * float64(c.micros) / 1e6 / float64(division)
		}
		seconds = append(seconds, sum)
	}
	return seconds
}

// Another program's onset detector must hear each click of whole takes, count-in
// included, where another program reads it in their MIDI files. aubio looks at windows
// of 1024 frames every 64 and sets an onset at a delay of its own: 4 ms here, as on any
// track of these clicks. That delay may be 6 ms; around it each click may lie a block of
// 64 frames and half a one off, 2.2 ms.
func TestOtherDetectorHearsTheClicks(t *testing.T) {
	aubio, midicsv := tool(t, "aubioonset"), tool(t, "midicsv")
	dir := t.TempDir()
	for i, p := range []played{
		plays(t, "march", "strain", 8, 3, false), plays(t, "march", "strain", 6, 4, false),
		plays(t, "lyrical", "song", 6, 3, false),
	} {
		clicks := only(p.t, func(e timeline.Event) bool {
			return e.Channel == timeline.DrumsChannel && (e.Kind == timeline.Program || e.A == timeline.Click || e.A == timeline.ClickAccent)
		})
		song, sound := filepath.Join(dir, strconv.Itoa(i)+".mid"), filepath.Join(dir, strconv.Itoa(i)+".wav")
		var midi, wav bytes.Buffer
		if err := file.Write(&midi, p.t, p.name, ""); err != nil {
			t.Fatal(err)
		}
		if err := RenderWAV(&wav, clicks, builtin(t), Options{}); err != nil {
			t.Fatal(err)
		}
		for path, data := range map[string][]byte{song: midi.Bytes(), sound: wav.Bytes()} {
			if err := os.WriteFile(path, data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want := struckAt(t, midicsv, song, timeline.Click, timeline.ClickAccent)
		out, err := exec.Command(aubio, "-i", sound, "-r", "0", "-B", "1024", "-H", "64", "-M", "0.1", "-s", "-60", "-t", "0.5").Output()
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		for _, s := range strings.Fields(string(out)) {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, v)
		}
		if len(got) != len(want) || len(want) < 20 {
			t.Fatalf("%s: %d onsets heard, %d clicks in the MIDI file", p.name, len(got), len(want))
		}
		var off []float64
		for k := range want {
			off = append(off, 1000*(got[k]-want[k]))
		}
		sorted := slices.Sorted(slices.Values(off))
		middle := sorted[len(sorted)/2]
		t.Logf("%s: %d clicks, off by %.1f ms in the middle, %.1f to %.1f", p.name, len(off), middle, sorted[0], sorted[len(sorted)-1])
		if math.Abs(middle) > 6 || sorted[0] < middle-2.2 || sorted[len(sorted)-1] > middle+2.2 {
			t.Errorf("%s: clicks are heard %.1f to %.1f ms off, %.1f in the middle; want 6 at most in the middle, and 2.2 around it",
				p.name, sorted[0], sorted[len(sorted)-1], middle)
		}
	}
}
