package synth

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

// A Font is a sound font ready to be played. It may be shared: playing does not
// change it.
//
// Opening it reads what the font says of itself; the waves, by far the most of it, are
// read when a program first needs them.
type Font struct {
	name  string
	file  *meltysynth.SoundFont // without its waves
	waves waves
	gain  func() float32          // brings the font to the loudness of the built-in one
	parts []func() (*Font, error) // of the built-in font, its instruments; else nil

	mutex  sync.Mutex
	sounds map[*meltysynth.Preset]*sound
	read   map[[2]int64][]int16 // waves read so far, by first and last sample
}

// waves say where the waves of a font lie.
type waves struct {
	open    func() (io.ReaderAt, error) // closed after use if it is an io.Closer
	at      int64                       // byte of the first sample
	samples int64
}

func newFont(name string, file *meltysynth.SoundFont, w waves) *Font {
	return &Font{name: name, file: file, waves: w, gain: func() float32 { return 1 },
		sounds: map[*meltysynth.Preset]*sound{}, read: map[[2]int64][]int16{}}
}

// Name reports "built-in" or the file's path.
func (f *Font) Name() string { return f.name }

// A FontFile is the file of a sound font.
type FontFile interface {
	io.ReaderAt
	io.Closer
	Size() int64 // in bytes
}

// Open makes the sound font that spec asks for: "auto" is one found in the usual
// places of this system (FontPlaces), else the built-in one; "builtin" is the
// built-in one; all else is the path of an .sf2 file. It fails when that file cannot
// be read or is no SoundFont 2 file. A font that "auto" finds and cannot read is
// passed over. open opens a file, now and again when waves are needed.
func Open(spec string, open func(path string) (FontFile, error)) (*Font, error) {
	switch spec {
	case "builtin":
		return openBuiltin(), nil
	case "auto":
		return openFirst(FontPlaces(runtime.GOOS, os.Getenv), open), nil
	}
	return openFile(spec, open)
}

// openFirst is the first of the fonts that can be read, else the built-in one.
func openFirst(paths []string, open func(string) (FontFile, error)) *Font {
	for _, path := range paths {
		if f, err := openFile(path, open); err == nil {
			return f
		}
	}
	return openBuiltin()
}

// openFile reads the sound font at path.
func openFile(path string, open func(string) (FontFile, error)) (*Font, error) {
	file, err := open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf(`sound font %q: no such file; give the path of an .sf2 file, or "auto" or "builtin"`, path)
		}
		return nil, fmt.Errorf("sound font: %w", err)
	}
	defer file.Close()
	f, w, err := parse(file, file.Size())
	if err != nil {
		return nil, fmt.Errorf("sound font %q: %w; give a SoundFont 2 (.sf2) file", path, err)
	}
	w.open = func() (io.ReaderAt, error) { return open(path) }
	font := newFont(path, f, w)
	font.gain = sync.OnceValue(func() float32 { return measureGain(font) })
	return font, nil
}

// parse reads a SoundFont 2 file of size bytes but for its waves. The parser it calls
// trusts lengths that a broken file may lie about, so they are checked first, and what
// it still trips over is turned into an error.
func parse(r io.ReaderAt, size int64) (f *meltysynth.SoundFont, w waves, err error) {
	head := make([]byte, min(size, 4096))
	if _, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return nil, w, err
	}
	switch {
	case len(head) < 12 || string(head[:4]) != "RIFF" || string(head[8:12]) != "sfbk":
		return nil, w, errors.New("not a SoundFont 2 file (no RIFF sfbk header)")
	case compressed(head):
		return nil, w, errors.New("a compressed sound font (SF3), which is not supported")
	}
	if declared := int64(binary.LittleEndian.Uint32(head[4:])) + 8; declared > size {
		return nil, w, fmt.Errorf("cut short: %d bytes of %d", size, declared)
	}
	if err := checkChunks(r, 12, size); err != nil {
		return nil, w, err
	}
	bare, w, err := withoutWaves(r, size)
	if err != nil {
		return nil, w, err
	}
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("broken file (%v)", p)
		}
	}()
	if f, err = meltysynth.NewSoundFont(bytes.NewReader(bare)); err != nil {
		return nil, w, fmt.Errorf("broken file: %w", err)
	}
	return f, w, nil
}

// withoutWaves copies a font, whose chunks have been checked, with no samples in it,
// and says where they lie.
func withoutWaves(r io.ReaderAt, size int64) (bare []byte, w waves, err error) {
	bare = append(bare, "RIFF\x00\x00\x00\x00sfbk"...)
	for from := int64(12); from+12 <= size; {
		var head [12]byte
		if _, err := r.ReadAt(head[:], from); err != nil {
			return nil, w, err
		}
		length := int64(binary.LittleEndian.Uint32(head[4:]))
		switch {
		case string(head[:4]) != "LIST":
		case string(head[8:]) == "sdta":
			if w.at, w.samples, err = findSamples(r, from+12, from+8+length); err != nil {
				return nil, w, err
			}
			bare = append(append(bare, chunkHead("LIST", 12)...), "sdta"...)
			bare = append(bare, chunkHead("smpl", 0)...)
		case length > largestList:
			return nil, w, fmt.Errorf("broken file: list %q of %d bytes", head[8:], length)
		default:
			list := make([]byte, 8+length)
			if _, err := r.ReadAt(list, from); err != nil {
				return nil, w, err
			}
			bare = append(bare, list...)
		}
		from += 8 + length + length%2
	}
	return bare, w, nil
}

// largestList bounds what is read of a font besides its waves: the largest fonts have
// some MiB.
const largestList = 256 << 20

// findSamples finds the 16-bit samples in the list between bytes from and to: at which
// byte they begin and how many they are.
func findSamples(r io.ReaderAt, from, to int64) (at, samples int64, err error) {
	for from+8 <= to {
		var head [8]byte
		if _, err := r.ReadAt(head[:], from); err != nil {
			return 0, 0, err
		}
		length := int64(binary.LittleEndian.Uint32(head[4:]))
		if string(head[:4]) == "smpl" {
			return from + 8, length / 2, nil
		}
		from += 8 + length + length%2
	}
	return 0, 0, errors.New("broken file: it has no samples")
}

// checkChunks refuses a chunk between bytes from and to that says it is longer than
// what holds it.
func checkChunks(r io.ReaderAt, from, to int64) error {
	for from+8 <= to {
		var head [8]byte
		if _, err := r.ReadAt(head[:], from); err != nil {
			return err
		}
		end := from + 8 + int64(binary.LittleEndian.Uint32(head[4:]))
		if end > to {
			return fmt.Errorf("broken file: chunk %q at byte %d says it ends at %d, past %d", head[:4], from, end, to)
		}
		if string(head[:4]) == "LIST" {
			if err := checkChunks(r, from+12, end); err != nil {
				return err
			}
		}
		from = end + end%2
	}
	return nil
}

// compressed reports whether the file's version is 3, whose samples are compressed.
func compressed(head []byte) bool {
	i := bytes.Index(head, []byte("ifil"))
	return i >= 0 && i+10 <= len(head) && head[i+8] >= 3
}

// FontPlaces lists where sound fonts are found on an operating system (a GOOS), the
// likeliest first; getenv reports environment variables. Wildcards are resolved; files
// need not exist.
func FontPlaces(goos string, getenv func(string) string) []string {
	var folders []string
	home := getenv("HOME")
	switch goos {
	case "windows":
		for _, v := range []string{"LOCALAPPDATA", "ProgramFiles", "ProgramData", "USERPROFILE"} {
			if base := getenv(v); base != "" {
				folders = append(folders, filepath.Join(base, "SoundFonts"), filepath.Join(base, "soundfonts"))
			}
		}
	case "darwin":
		if home != "" {
			folders = append(folders, filepath.Join(home, "Library", "Audio", "Sounds", "Banks"))
		}
		folders = append(folders, "/Library/Audio/Sounds/Banks", "/opt/homebrew/share/soundfonts", "/usr/local/share/soundfonts")
	default:
		if data := getenv("XDG_DATA_HOME"); data != "" {
			folders = append(folders, filepath.Join(data, "soundfonts"), filepath.Join(data, "sounds", "sf2"))
		}
		if home != "" {
			folders = append(folders, filepath.Join(home, ".local", "share", "soundfonts"), filepath.Join(home, ".local", "share", "sounds", "sf2"))
		}
		folders = append(folders, "/usr/share/soundfonts", "/usr/local/share/soundfonts", "/usr/share/sounds/sf2", "/usr/local/share/sounds/sf2")
	}
	var places []string
	for _, folder := range folders {
		for _, name := range []string{"default.sf2", "default-GM.sf2", "FluidR3_GM.sf2", "GeneralUser*.sf2", "*GM*.sf2", "*.sf2"} {
			found, _ := filepath.Glob(filepath.Join(folder, name)) // the patterns are constant and well formed
			places = append(places, found...)
		}
	}
	return places
}
