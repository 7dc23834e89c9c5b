package synth

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// neutral are settings that change nothing: there to be broken. By number: the filter's
// cutoff and peak, attenuation, coarse and fine tuning, and the scale's.
var neutral = []setting{{genFilterCutoff, 13500}, {9, 0}, {48, 0}, {51, 0}, {genFineTune, 0}, {genScaleTuning, 100}}

// smallFont is a sound font of one wave, to be read from a file.
func smallFont(t *testing.T) []byte {
	t.Helper()
	w := wave{name: "Beep", data: make([]int16, 200), rate: 22050, root: 60, loopStart: 20, loopEnd: 180}
	for i := range w.data {
		w.data[i] = int16(8000 * (i / 20 % 2))
	}
	b := bank{name: "Small", waves: []wave{w}, patches: []patch{{name: "Beep", programs: []int{0},
		zones: []zone{{highKey: 127, topVelocity: 127, settings: neutral}}}}}
	var out bytes.Buffer
	if err := b.write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func written(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// onDisk opens a font as a program does.
func onDisk(path string) (FontFile, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	return sized{f, info}, err
}

type sized struct {
	*os.File
	info os.FileInfo
}

func (s sized) Size() int64 { return s.info.Size() }

func TestOpenFile(t *testing.T) {
	path := written(t, "small.sf2", smallFont(t))
	f, err := Open(path, onDisk)
	if err != nil {
		t.Fatal(err)
	}
	if f.Name() != path {
		t.Errorf("Name %q, want %q", f.Name(), path)
	}
	loud := rms(soundOf(t, f, 0, 0, 60, 80, 0.3, 0))
	usual := rms(soundOf(t, builtin(t), 0, 57, 55, 80, 0.3, 0))
	if d := dB(loud / usual); d < -6 || d > 6 {
		t.Errorf("a foreign font sounds %+.1f dB beside the built-in one, want within 6", d)
	}
}

// Where no font is found, or none that can be read, the built-in one plays.
func TestOpenFirst(t *testing.T) {
	broken, good := written(t, "broken.sf2", []byte("RIFF")), written(t, "small.sf2", smallFont(t))
	for _, c := range []struct {
		paths []string
		want  string
	}{
		{nil, "built-in"},
		{[]string{broken, "no/such.sf2"}, "built-in"},
		{[]string{broken, good, "no/such.sf2"}, good},
	} {
		f := openFirst(c.paths, onDisk)
		if f.Name() != c.want {
			t.Errorf("%q: %s, want %s", c.paths, f.Name(), c.want)
		}
		if loud := rms(soundOf(t, f, 0, 57, 60, 80, 0.3, 0)); loud == 0 {
			t.Errorf("%q: it is silent", c.paths)
		}
	}
}

func TestOpenRefusesInWords(t *testing.T) {
	good := smallFont(t)
	sf3 := slices.Clone(good)
	sf3[bytes.Index(sf3, []byte("ifil"))+8] = 3
	for _, c := range []struct {
		name, want string
		data       []byte
	}{
		{"song.mid", "not a SoundFont 2 file", []byte("MThd and more than twelve bytes")},
		{"empty.sf2", "not a SoundFont 2 file", nil},
		{"short.sf2", "cut short", good[:len(good)/2]},
		{"packed.sf2", "compressed", sf3},
	} {
		path := written(t, c.name, c.data)
		_, err := Open(path, onDisk)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: got %v, want an error with the path and %q", c.name, err, c.want)
		}
	}
	if _, err := Open("/no/such/font.sf2", onDisk); err == nil || !strings.Contains(err.Error(), `"builtin"`) {
		t.Errorf("missing file: got %v, want an error that says what can be given", err)
	}
	if _, err := Open(t.TempDir(), onDisk); err == nil {
		t.Error("a folder was opened")
	}
}

// Whatever bytes are broken, Open answers with a font or an error, never a panic, and a
// font that it takes can be played: what sounds is a number.
func TestBrokenFilesAreRefusedOrPlayed(t *testing.T) {
	good, rng := smallFont(t), noise(11)
	refused, played := 0, 0
	for range 6000 {
		bad := slices.Clone(good)
		for range 1 + rng.next()%4 {
			bad[rng.next()%uint64(len(bad))] = byte(rng.next() >> (rng.next() % 8))
		}
		file, w, err := parse(bytes.NewReader(bad), int64(len(bad)))
		if err != nil {
			refused++
			continue
		}
		w.open = func() (io.ReaderAt, error) { return bytes.NewReader(bad), nil }
		e, err := bareEngine(newFont("broken", file, w), testRate, Program{})
		if err != nil {
			refused++
			continue
		}
		played++
		out := make([]float32, 2*1000)
		for _, key := range []byte{0, 60, 127} {
			e.apply(message{0x90, key, 100})
		}
		e.fill(out, nothing{})
		e.choir.silence(false)
		e.fill(out, nothing{})
		if v := e.room.low; v != v {
			t.Fatalf("a broken font sounds as no number, in %x", bad)
		}
	}
	if refused < 100 || played < 100 {
		t.Errorf("%d refused, %d played: want both", refused, played)
	}
}

func TestFontPlacesFindsTheUsersFont(t *testing.T) {
	home := t.TempDir()
	for _, c := range []struct{ goos, variable, folder string }{
		{"linux", "HOME", ".local/share/soundfonts"},
		{"linux", "XDG_DATA_HOME", "soundfonts"},
		{"darwin", "HOME", "Library/Audio/Sounds/Banks"},
		{"windows", "LOCALAPPDATA", "SoundFonts"},
	} {
		base := filepath.Join(home, c.goos+c.variable)
		folder := filepath.Join(base, filepath.FromSlash(c.folder))
		if err := os.MkdirAll(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		other, usual := filepath.Join(folder, "A.sf2"), filepath.Join(folder, "FluidR3_GM.sf2")
		for _, path := range []string{other, usual} {
			if err := os.WriteFile(path, nil, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		places := FontPlaces(c.goos, func(v string) string {
			if v == c.variable {
				return base
			}
			return ""
		})
		if len(places) < 2 || places[0] != usual || !slices.Contains(places, other) {
			t.Errorf("%s, %s: got %q, want %q first and %q among them", c.goos, c.variable, places, usual, other)
		}
	}
}
