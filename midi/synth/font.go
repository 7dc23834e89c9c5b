package synth

import (
	"bytes"
	"errors"
	"fmt"
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
	f, err := parse(data)
	if err != nil {
		return nil, fmt.Errorf("%s sound font: %w", builtinName, err)
	}
	return &Font{name: builtinName, file: f, gain: func() float32 { return 1 }}, nil
})

// openFile reads the sound font at path.
func openFile(path string) (*Font, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf(`sound font %q: no such file; give the path of an .sf2 file, or "auto" or "builtin"`, path)
		}
		return nil, fmt.Errorf("sound font: %w", err)
	}
	f, err := parse(data)
	if err != nil {
		return nil, fmt.Errorf("sound font %q: %w; give a SoundFont 2 (.sf2) file", path, err)
	}
	font := &Font{name: path, file: f}
	font.gain = sync.OnceValue(func() float32 { return measureGain(font) })
	return font, nil
}

// parse reads a SoundFont 2 file held in memory. The reader it calls trusts lengths
// that a broken file may lie about, so the outermost is checked here and what it
// still trips over is turned into an error.
func parse(data []byte) (f *meltysynth.SoundFont, err error) {
	switch {
	case len(data) < 12 || string(data[:4]) != "RIFF" || string(data[8:12]) != "sfbk":
		return nil, errors.New("not a SoundFont 2 file (no RIFF sfbk header)")
	case compressed(data):
		return nil, errors.New("a compressed sound font (SF3), which is not supported")
	}
	declared := uint64(data[4]) | uint64(data[5])<<8 | uint64(data[6])<<16 | uint64(data[7])<<24
	if declared+8 > uint64(len(data)) {
		return nil, fmt.Errorf("cut short: %d bytes of %d", len(data), declared+8)
	}
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("broken file (%v)", p)
		}
	}()
	f, err = meltysynth.NewSoundFont(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("broken file: %w", err)
	}
	return f, nil
}

// compressed reports whether the file's version is 3, whose samples are compressed.
func compressed(data []byte) bool {
	i := bytes.Index(data[:min(len(data), 4096)], []byte("ifil"))
	return i >= 0 && i+10 <= len(data) && data[i+8] >= 3
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
