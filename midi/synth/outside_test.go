package synth

import (
	"bytes"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"onward/midi/timeline"
)

// tool finds a program of others; without it the test is skipped, or fails when
// ONWARD_OUTSIDE=1 makes the check compulsory.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("ONWARD_OUTSIDE") == "1" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("%s is not installed; ONWARD_OUTSIDE=1 makes this a failure", name)
	}
	return path
}

// smf is a timeline at 120 as a MIDI file of one track (Standard MIDI File 1.0), just
// enough for another player.
func smf(t *timeline.Timeline) []byte {
	var track []byte
	last := int64(0)
	for _, e := range t.Events {
		track = appendVar(track, uint32(int64(e.At)-last))
		last = int64(e.At)
		m := messageOf(e)
		n := 3
		if e.Kind == timeline.Program {
			n = 2
		}
		track = append(track, m[:n]...)
	}
	track = append(track, 0, 0xFF, 0x2F, 0)
	out := append([]byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01"), 10080>>8, 10080&0xff)
	out = append(out, "MTrk"...)
	out = binary.BigEndian.AppendUint32(out, uint32(len(track)))
	return append(out, track...)
}

func appendVar(b []byte, v uint32) []byte {
	for shift := 21; shift > 0; shift -= 7 {
		if v>>shift != 0 {
			b = append(b, byte(v>>shift)&0x7f|0x80)
		}
	}
	return append(b, byte(v)&0x7f)
}

// An independent synthesizer must read the built-in font without complaint and play
// a march with it at a sane level.
func TestOtherSynthesizerPlaysTheFont(t *testing.T) {
	fluidsynth, sox := tool(t, "fluidsynth"), tool(t, "sox")
	dir := t.TempDir()
	font, song, sound := filepath.Join(dir, "band.sf2"), filepath.Join(dir, "march.mid"), filepath.Join(dir, "march.wav")
	var b bytes.Buffer
	if err := WriteSoundFont(&b); err != nil {
		t.Fatal(err)
	}
	for path, data := range map[string][]byte{font: b.Bytes(), song: smf(march(8))} {
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	said, err := exec.Command(fluidsynth, "-ni", "-g", "1", "-r", "44100", "-F", sound, font, song).CombinedOutput()
	if err != nil || strings.Contains(strings.ToLower(string(said)), "error") || strings.Contains(strings.ToLower(string(said)), "warning") {
		t.Fatalf("fluidsynth: %v\n%s", err, said)
	}
	stats, err := exec.Command(sox, sound, "-n", "stats").CombinedOutput()
	if err != nil {
		t.Fatalf("sox: %v\n%s", err, stats)
	}
	if l := stat(t, stats, `RMS lev dB`); l < -35 || l > -8 {
		t.Errorf("the other synthesizer plays at %g dBFS, want -35 to -8\n%s", l, stats)
	}
	if seconds := stat(t, stats, `Length s`); seconds < 8 {
		t.Errorf("it plays for %g s, want at least 8", seconds)
	}
}

// sox must read our own WAV files and find them unclipped.
func TestOtherProgramReadsTheSound(t *testing.T) {
	sox := tool(t, "sox")
	sound := filepath.Join(t.TempDir(), "march.wav")
	file, err := os.Create(sound)
	if err != nil {
		t.Fatal(err)
	}
	if err := RenderWAV(file, march(8), builtin(t), Options{}); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	stats, err := exec.Command(sox, sound, "-n", "stats").CombinedOutput()
	if err != nil || strings.Contains(string(stats), "WARN") {
		t.Fatalf("sox: %v\n%s", err, stats)
	}
	if l := stat(t, stats, "Length s"); l != 9.5 {
		t.Errorf("length %g s, want 9.5", l)
	}
	if l := stat(t, stats, "Pk lev dB"); l > -0.9 || l < -12 {
		t.Errorf("peak %g dBFS, want -12 to -0.9", l)
	}
	if l := stat(t, stats, "DC offset"); l > 0.001 || l < -0.001 {
		t.Errorf("DC offset %g, want none", l)
	}
}

// stat reads the overall figure of one line of sox's statistics.
func stat(t *testing.T, stats []byte, label string) float64 {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + label + `\s+(-?[\d.]+)`).FindSubmatch(stats)
	if m == nil {
		t.Fatalf("no %q in\n%s", label, stats)
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
