package synth

import (
	"bufio"
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
type Font struct {
	name string
	file *meltysynth.SoundFont
	gain func() float32 // brings the font to the loudness of the built-in one
}

// Name reports "built-in" or the file's path.
func (f *Font) Name() string { return f.name }

// Open makes the sound font that spec asks for: "auto" is one found in the usual
// places of this system (FontPlaces), else the built-in one; "builtin" is the
// built-in one; all else is the path of an .sf2 file. It fails when that file cannot
// be read or is no SoundFont 2 file. A font that "auto" finds and cannot read is
// passed over.
func Open(spec string) (*Font, error) {
	switch spec {
	case "builtin":
		return openBuiltin()
	case "auto":
		for _, path := range FontPlaces(runtime.GOOS, os.Getenv) {
			if f, err := openFile(path); err == nil {
				return f, nil
			}
		}
		return openBuiltin()
	}
	return openFile(spec)
}

// openBuiltin reads the built-in font, once for all.
var openBuiltin = sync.OnceValues(func() (*Font, error) {
	data, err := builtinFile()
	if err != nil {
		return nil, err
	}
	f, err := parse(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("%s sound font: %w", builtinName, err)
	}
	return &Font{name: builtinName, file: f, gain: func() float32 { return 1 }}, nil
})

// openFile reads the sound font at path.
func openFile(path string) (*Font, error) {
	file, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf(`sound font %q: no such file; give the path of an .sf2 file, or "auto" or "builtin"`, path)
		}
		return nil, fmt.Errorf("sound font: %w", err)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, fmt.Errorf("sound font: %w", err)
	}
	f, err := parse(file, info.Size())
	if err != nil {
		return nil, fmt.Errorf("sound font %q: %w; give a SoundFont 2 (.sf2) file", path, err)
	}
	font := &Font{name: path, file: f}
	font.gain = sync.OnceValue(func() float32 { return measureGain(font) })
	return font, nil
}

// parse reads a SoundFont 2 file of size bytes. The parser it calls trusts lengths
// that a broken file may lie about, so they are checked first, and what it still
// trips over is turned into an error.
func parse(r io.ReaderAt, size int64) (f *meltysynth.SoundFont, err error) {
	head := make([]byte, min(size, 4096))
	if _, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return nil, err
	}
	switch {
	case len(head) < 12 || string(head[:4]) != "RIFF" || string(head[8:12]) != "sfbk":
		return nil, errors.New("not a SoundFont 2 file (no RIFF sfbk header)")
	case compressed(head):
		return nil, errors.New("a compressed sound font (SF3), which is not supported")
	}
	if declared := int64(binary.LittleEndian.Uint32(head[4:])) + 8; declared > size {
		return nil, fmt.Errorf("cut short: %d bytes of %d", size, declared)
	}
	if err := checkChunks(r, 12, size); err != nil {
		return nil, err
	}
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("broken file (%v)", p)
		}
	}()
	f, err = meltysynth.NewSoundFont(whole{bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 1<<16)})
	if err != nil {
		return nil, fmt.Errorf("broken file: %w", err)
	}
	return f, nil
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

// whole reads as much as it is asked for, which the parser relies upon.
type whole struct{ r io.Reader }

func (w whole) Read(p []byte) (int, error) { return io.ReadFull(w.r, p) }

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
