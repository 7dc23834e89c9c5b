package file

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"reflect"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/midi/timeline"
	"onward/rhythm"

	"gitlab.com/gomidi/midi/v2/smf"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the goldens anew")

// march is a few measures for a B-flat player, with pickup, repeat, endings and a
// trio in another key, meter and tempo.
const march = `part Cornet; sounds -1 -2; key F; 6/8 tempo 4.=112 March tempo;
	pickup f C5:8 |: letter A; F5:4> F5:8' E5:4 D5:8 | p < {D5,E5}F5:4.~ F5:8 ! ff E5:8( D5:8) |
	[1 C5:4. r:4 C5:8' ] :| [2 mf C5:4._ r:4. ] |
	letter B; key Bb minor; cut tempo 2=90; pp Db5:2 F5:2 | Bb4:1 |]`

func take(t *testing.T, text string) *timeline.Timeline {
	t.Helper()
	p := score.MustText(text)
	l, err := timeline.LayOut(&p, timeline.FullCountIn())
	if err != nil {
		t.Fatal(err)
	}
	melody, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	line := l.Timeline()
	line.Tracks = []string{"Cornet", "Chord", "Clicks"}
	volume := []timeline.Event{{Track: 1, Channel: 1, Kind: timeline.Controller, A: 7, B: 90}}
	line.Events = timeline.Merge(
		timeline.Voice{Track: 0, Channel: 0, Program: 56}.Play(melody),
		append(volume, timeline.Voice{Track: 1, Channel: 1, Program: 48}.Play(l.TonicChord())...),
		timeline.Voice{Track: 2, Channel: timeline.DrumsChannel}.Play(l.Clicks()))
	return line
}

func write(t *testing.T, line *timeline.Timeline) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, line, "A Read", "seed 1 rung 3"); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What is written reads as the same take; only the beats are not in the file.
func TestRoundTrip(t *testing.T) {
	line := take(t, march)
	data := write(t, line)
	got, err := Read(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	want := *line
	want.Beats = nil
	if got.Text() != want.Text() {
		t.Errorf("got\n%s\nwant\n%s", got.Text(), want.Text())
	}
	if again := write(t, line); !bytes.Equal(again, data) {
		t.Error("the same take gives other bytes the second time")
	}
}

// The bytes of one measure, by hand from the Standard MIDI Files 1.0 (from memory).
func TestBytes(t *testing.T) {
	line := take(t, "4/4 tempo 4=120; key Eb; C4:1 |]")
	line.Tracks, line.Events = []string{"T"}, []timeline.Event{
		{At: 0, Kind: timeline.Program, A: 57},
		{At: 10080, Kind: timeline.NoteOn, A: 60, B: 80},
		{At: 20160, Kind: timeline.NoteOff, A: 60},
	}
	line.Markers = nil
	var b bytes.Buffer
	if err := Write(&b, line, "N", "id"); err != nil {
		t.Fatal(err)
	}
	want := "MThd\x00\x00\x00\x06\x00\x01\x00\x02\x27\x60" +
		"MTrk\x00\x00\x00\x26" +
		"\x00\xFF\x03\x01N" + "\x00\xFF\x01\x02id" +
		"\x00\xFF\x58\x04\x04\x02\x18\x08" + "\x00\xFF\x59\x02\xFD\x00" + "\x00\xFF\x51\x03\x07\xA1\x20" +
		"\x89\xEC\x00\xFF\x2F\x00" + // 161,280 ticks: four measures
		"MTrk\x00\x00\x00\x18" +
		"\x00\xFF\x03\x01T" + "\x00\xC0\x39" + "\xCE\x60\x90\x3C\x50" + "\xCE\x60\x80\x3C\x40" +
		"\x88\xCE\x40\xFF\x2F\x00"
	if got := b.String(); got != want {
		t.Errorf("got\n% X\nwant\n% X", got, want)
	}
}

// The MIDI library's reader, which shares no code with ours, finds the same messages
// at the same ticks.
func TestLibraryReadsTheSame(t *testing.T) {
	line := take(t, march)
	song, err := smf.ReadFrom(bytes.NewReader(write(t, line)))
	if err != nil {
		t.Fatal(err)
	}
	if song.TimeFormat != smf.MetricTicks(10080) || song.Format() != 1 || len(song.Tracks) != 4 {
		t.Errorf("%v, type %d, %d tracks", song.TimeFormat, song.Format(), len(song.Tracks))
	}
	for i := range line.Tracks {
		var got, want []string
		at := int64(0)
		for _, e := range song.Tracks[i+1] {
			if at += int64(e.Delta); e.Message[0] < 0xF0 {
				got = append(got, fmt.Sprintf("%d: % X", at, []byte(e.Message)))
			}
		}
		for _, e := range line.Events {
			if int(e.Track) == i {
				status := [...]byte{0x80, 0x90, 0xB0, 0xC0}[e.Kind] + e.Channel
				bytes := [...][]byte{{status, e.A, 64}, {status, e.A, e.B}, {status, e.A, e.B}, {status, e.A}}[e.Kind]
				want = append(want, fmt.Sprintf("%d: % X", e.At, bytes))
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("track %d\n got %q\nwant %q", i, got, want)
		}
	}
}

// Any legal take comes back as it was, silences longer than one distance can say too.
func TestRoundTripOfAnyTake(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := &timeline.Timeline{
			Tempos: []timeline.Tempo{{MicrosPerQuarter: rapid.IntRange(1, timeline.MaxMicrosPerQuarter).Draw(t, "tempo")}},
			End:    rhythm.Offset(rapid.Int64Range(2000, 1<<31).Draw(t, "end")),
		}
		var voices [][]timeline.Event
		for i := range rapid.IntRange(0, 3).Draw(t, "tracks") {
			line.Tracks = append(line.Tracks, fmt.Sprint("track ", i))
			var tones []timeline.Tone
			for range rapid.IntRange(0, 8).Draw(t, "tones") {
				tones = append(tones, timeline.Tone{
					At:       rhythm.Offset(rapid.Int64Range(0, int64(line.End)-1000).Draw(t, "at")),
					Hold:     rhythm.Duration(rapid.IntRange(1, 900).Draw(t, "hold")),
					Key:      uint8(rapid.IntRange(0, 127).Draw(t, "key")),
					Velocity: uint8(rapid.IntRange(1, 127).Draw(t, "velocity")),
				})
			}
			v := timeline.Voice{Track: uint8(i), Channel: uint8(rapid.IntRange(0, 15).Draw(t, "channel"))}
			voices = append(voices, v.Play(tones))
		}
		line.Events = timeline.Merge(voices...)
		var b bytes.Buffer
		if err := Write(&b, line, "", ""); err != nil {
			t.Fatal(err)
		}
		got, err := Read(&b)
		if err != nil {
			t.Fatal(err)
		}
		if got.Text() != line.Text() {
			t.Fatalf("got\n%s\nwant\n%s", got.Text(), line.Text())
		}
	})
}

// A take that is not sound, and a disk that is full, are errors.
func TestWriteRefuses(t *testing.T) {
	line := take(t, march)
	if err := Write(full{}, line, "A Read", ""); err == nil || !strings.Contains(err.Error(), `midi file "A Read": disk full`) {
		t.Errorf("full disk: %v", err)
	}
	line.Events = line.Events[:len(line.Events)-1]
	var b bytes.Buffer
	if err := Write(&b, line, "A Read", ""); err == nil || !strings.Contains(err.Error(), "the note never ends") || b.Len() > 0 {
		t.Errorf("an open note: %v, %d bytes written", err, b.Len())
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

// smfBytes builds a file of the type and division given, with the tracks' bytes.
func smfBytes(format, division int, tracks ...string) string {
	b := fmt.Sprintf("MThd\x00\x00\x00\x06\x00%c\x00%c", format, len(tracks)) + string([]byte{byte(division >> 8), byte(division)})
	for _, track := range tracks {
		b += "MTrk\x00\x00" + string([]byte{byte(len(track) >> 8), byte(len(track))}) + track
	}
	return b
}

// Files of other programs: running status, velocity 0, other divisions, type 0,
// pressure and bend, system exclusive, unknown chunks, open notes.
func TestReadOthers(t *testing.T) {
	const end = "\x00\xFF\x2F\x00"
	for _, c := range []struct{ name, data, want string }{
		{"type 0, running status, note-on of velocity 0 as its end",
			smfBytes(0, 96, "\x00\xFF\x03\x04Solo\x00\x90\x3C\x50\x60\x3C\x00\x00\x3E\x51\x30\x3E\x00"+end), `
count-in 0 end 1+1/2
0 tempo 500000 microseconds to the quarter
track 0 "Solo"
0 t0 c1 on C4 80
1 t0 c1 off C4
1 t0 c1 on D4 81
1+1/2 t0 c1 off D4`},
		{"type 1, maps in the first track, the later of two tempos",
			smfBytes(1, 480, "\x00\xFF\x51\x03\x0F\x42\x40\x00\xFF\x51\x03\x07\xA1\x20\x83\x60\xFF\x58\x04\x02\x01\x18\x08\x00\xFF\x59\x02\x02\x01"+end,
				"\x83\x60\x91\x3C\x50\x83\x60\x81\x3C\x00"+end), `
count-in 0 end 2
0 tempo 500000 microseconds to the quarter
1 meter cut
1 key B minor
track 0 ""
1 t0 c2 on C4 80
2 t0 c2 off C4`},
		{"pressure, bend and system exclusive are passed over",
			smfBytes(0, 96, "\x00\xF0\x02\x7E\xF7\x00\xA0\x3C\x50\x00\xD0\x40\x00\xE0\x00\x40\x00\xB0\x07\x64\x00\xC0\x05"+end), `
count-in 0 end 0
0 tempo 500000 microseconds to the quarter
track 0 ""
0 t0 c1 controller 7=100
0 t0 c1 program 5`},
		{"an open note ends with the file, an end alone is dropped, no end of track",
			smfBytes(0, 96, "\x00\x90\x3C\x50\x00\x80\x3E\x00\x60\xB0\x07\x64"), `
count-in 0 end 1
0 tempo 500000 microseconds to the quarter
track 0 ""
0 t0 c1 on C4 80
1 t0 c1 off C4
1 t0 c1 controller 7=100`},
		{"a note of no length lasts a tick", smfBytes(0, 20160, "\x00\x90\x3C\x50\x01\x80\x3C\x00"+end), `
count-in 0 end 1/10080
0 tempo 500000 microseconds to the quarter
track 0 ""
0 t0 c1 on C4 80
1/10080 t0 c1 off C4`},
		{"an unknown chunk", strings.Replace(smfBytes(0, 96, end), "MTrk", "XFIH\x00\x00\x00\x02abMTrk", 1), `
count-in 0 end 0
0 tempo 500000 microseconds to the quarter
track 0 ""`},
	} {
		got, err := Read(strings.NewReader(c.data))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		} else if strings.TrimSpace(got.Text()) != strings.TrimSpace(c.want) {
			t.Errorf("%s\n got\n%s\nwant%s", c.name, got.Text(), c.want)
		}
	}
}

// What is no file, or a broken one, is refused with the byte.
func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ data, want string }{
		{"", "does not begin with MThd"},
		{"RIFF", "does not begin with MThd"},
		{"MThd\x00\x00\x00\x06\x00", "header: byte 0: it claims 6 bytes; 1 are left"},
		{"MThd\x00\x00\x00\x02\x00\x00", "header: byte 4: 2 bytes, not 6"},
		{smfBytes(2, 96, ""), "header: byte 8: type 2"},
		{smfBytes(0, 0xE728, ""), "header: byte 12: it counts film frames"},
		{smfBytes(0, 0, ""), "header: byte 12: 0 ticks to the quarter"},
		{smfBytes(0, 96), "header: byte 10: 0 tracks"},
		{strings.Replace(smfBytes(0, 96, ""), "\x00\x01\x00\x60", "\x00\x02\x00\x60", 1), "track 2 of 2: byte 22: the file ends before it"},
		{"MThd\x00\x00\x00\x06\x00\x01\x01\x01\x00\x60", "header: byte 10: 257 tracks, not 1 to 256"},
		{"MThd\xFF\xFF\xFF\xFF\x00\x01", "header: byte 0: it claims 4294967295 bytes; 2 are left"},
		{smfBytes(0, 96, "\x00\x90\x3C\x50")[:24], "track 1 of 1: byte 14: it claims 4 bytes; 2 are left"},
		{strings.Replace(smfBytes(0, 96, "\x00\x90\x3C\x50"), "\x00\x00\x04", "\x00\x00\x03", 1), "track 1: byte 25: the track ends in the midst of a message"},
		{smfBytes(0, 96, "\x00\x90\x3C\x50\x00\xFF\x01\x00\x00\x3C\x50"), "byte 31: a data byte 3C without a status"}, // a meta event cancels running status
		{smfBytes(0, 96, "\x00"), "track 1: byte 23: the track ends in the midst of an event"},
		{smfBytes(0, 96, "\x80\x80\x80\x80\x00"), "a number of more than four bytes"},
		{smfBytes(0, 96, "\x00\x3C\x50"), "byte 23: a data byte 3C without a status"},
		{smfBytes(0, 96, "\x00\xF1\x50"), "byte 23: status F1 has no place in a file"},
		{smfBytes(0, 96, "\x00\x90\x3C\x80"), "byte 25: data byte 80 is not 0 to 7F"},
		{smfBytes(0, 96, "\x00\x90\x3C"), "in the midst of a message"},
		{smfBytes(0, 96, "\x00\xFF\x51\x7F\x00"), "an event claims 127 bytes; 1 are left"},
		{smfBytes(0, 96, "\x00\xFF\x51\x02\x00\x00"), "meta event 51: 2 bytes, not 3"},
		{smfBytes(0, 96, "\x00\xFF\x51\x03\x00\x00\x00"), "track 1: byte 29: a tempo of 0 microseconds"},
		{smfBytes(0, 96, "\x00\xFF\x58\x04\x03\xF0\x18\x08"), "track 1: byte 30: a meter of 3/65536 cannot be played"},
		{smfBytes(0, 96, "\x00\xFF\x59\x02\x09\x00"), "track 1: byte 28: a key of 9 accidentals"},
		{smfBytes(0, 1, strings.Repeat("\xFF\xFF\xFF\x7F\xFF\x01\x00", 2)), "the track grows too long"},
	} {
		if _, err := Read(strings.NewReader(c.data)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want an error with %q", c.data, err, c.want)
		}
	}
	if _, err := Read(io.LimitReader(zeros{}, MaxSize+5)); err == nil || !strings.Contains(err.Error(), "larger than 16 MB") {
		t.Errorf("a huge file: %v", err)
	}
}

// Files that lie about what is in them are read where nothing is lost: more tracks than
// said, bytes behind the last, a longer header, names without end.
func TestReadLenient(t *testing.T) {
	const note = "\x00\x90\x3C\x50\x60\x3C\x00\x00\xFF\x2F\x00"
	name := strings.Repeat("n", MaxText+1)
	for what, data := range map[string]string{
		"two tracks, one said": strings.Replace(smfBytes(1, 96, note, note), "\x00\x01\x00\x02", "\x00\x01\x00\x01", 1),
		"bytes behind":         smfBytes(0, 96, note) + "junk",
		"a longer header":      strings.Replace(smfBytes(0, 96, note), "\x00\x06\x00\x00\x00\x01\x00\x60", "\x00\x08\x00\x00\x00\x01\x00\x60\x00\x00", 1),
		"behind the track end": smfBytes(0, 96, note+"\x12\x34"),
		"a long name":          smfBytes(0, 96, "\x00\xFF\x03\xA0\x01"+name+note),
	} {
		got, err := Read(strings.NewReader(data))
		if err != nil || len(got.Events) != 2 || got.End != 10080 || len(got.Tracks) != 1 || len(got.Tracks[0]) > MaxText {
			t.Errorf("%s: %v, %v", what, got, err)
		}
	}
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// Whatever the bytes, Read does not panic; what it takes is sound, and comes back the
// same when it is written and read again.
func FuzzRead(f *testing.F) {
	f.Add([]byte(smfBytes(0, 96, "\x00\x90\x3C\x50\x60\x3C\x00\x00\xFF\x2F\x00")))
	f.Add([]byte(smfBytes(1, 480, "\x00\xFF\x51\x03\x07\xA1\x20\x00\xFF\x06\x01A\x00\xFF\x2F\x00", "\x00\x91\x3C\x50\x83\x60\x81\x3C\x00\x00\xB1\x07\x01\x00\xC1\x02")))
	f.Add([]byte(smfBytes(1, 1, "\x00\xFF\x59\x02\x02\x01\xFF\x7F\xFF\x58\x04\x06\x03\x24\x08", "\xFF\xFF\x7F\x90\x3C\x50")))
	f.Fuzz(func(t *testing.T, data []byte) {
		line, err := Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		if err := line.Check(); err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := Write(&b, line, "fuzz", ""); err != nil {
			t.Fatal(err)
		}
		again, err := Read(&b)
		if err != nil {
			t.Fatal(err)
		}
		if again.Text() != line.Text() {
			t.Fatalf("got\n%s\nwant\n%s", again.Text(), line.Text())
		}
	})
}

// The whole file of the march, as a golden, so that no byte changes unseen.
func TestMarchGolden(t *testing.T) {
	got := write(t, take(t, march))
	const golden = "testdata/march.mid"
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; -update writes it anew", golden)
	}
}

func BenchmarkWrite(b *testing.B) {
	p := score.MustText(march)
	l, _ := timeline.LayOut(&p, timeline.FullCountIn())
	melody, _ := l.Melody()
	line := l.Timeline()
	line.Tracks = []string{"Cornet"}
	line.Events = timeline.Merge(timeline.Voice{}.Play(melody))
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, line, "A Read", ""); err != nil {
			b.Fatal(err)
		}
	}
}
