package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"onward/midi/live"
)

// TestOutsideTempos has the npm package midi-file 1.2.4 read takes with rubato, slower
// takes and a printed piece whose tempo changes inside measures; its tempo map, summed in whole microseconds by ticks, gives the deadline of every
// note that the player plays.
func TestOutsideTempos(t *testing.T) {
	programs, err := filepath.Abs(outsidePrograms)
	if err != nil {
		t.Fatal(err)
	}
	s := newStage(t)
	var names []byte
	var rolls []*live.Roll
	for i := range 12 {
		flags := []string{"--style lyrical --rubato", "--style lyrical --rubato --slower 70%", "--style march --slower 85%"}[i%3]
		args := fmt.Sprintf("read --look-over 0 --rung %d --seed %d --out %02d %s", 1+i, i, i, flags)
		rolls = append(rolls, rollOf(t, s, args))
		for _, p := range pages(t, fmt.Sprintf("%02d", i)) {
			if filepath.Ext(p) == bandSuffix {
				names = append(names, p+"\n"...)
			}
		}
	}
	changing := strings.NewReplacer(`<duration>2</duration></note><note>`, `<duration>2</duration></note><sound tempo="77.7"/><note>`).Replace(duet)
	if err := os.WriteFile("changing.xml", []byte(changing), 0o666); err != nil {
		t.Fatal(err)
	}
	rolls = append(rolls, rollOf(t, s, "read --piece changing.xml --part 2 --look-over 0 --slower 70% --guide --out piece"))
	names = append(names, "piece/changing-part-2.mid\n"...)
	lines := script(t, programs, "midi-file", "midifile.mjs", names)
	songs := decodeSongs(t, lines)
	changes := 0
	for i, song := range songs {
		var got, want []string
		for _, track := range song.Tracks {
			for _, n := range track.Notes {
				got = append(got, fmt.Sprintf("%012d %d %d", song.micros(n.At), n.Channel, n.Key))
			}
		}
		for _, e := range rolls[i].Events {
			if e.Msg[0]&0xF0 == 0x90 {
				want = append(want, fmt.Sprintf("%012d %d %d", e.At.Microseconds(), e.Msg[0]&15, e.Msg[1]))
			}
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("take %d: by the file's tempo map the notes lie otherwise than they are played:\n got %v\nwant %v", i, got, want)
		}
		changes += len(song.Tempos) - 1
	}
	t.Logf("%d files, %d changes of tempo", len(songs), changes)
	if last := songs[len(songs)-1]; len(last.Tempos) < 4 {
		t.Errorf("the piece's tempos are %v", last.Tempos)
	}
	if changes < 100 {
		t.Errorf("%d changes of tempo in takes with rubato", changes)
	}
}

// micros sums the tempo map up to a place.
func (s *heardSong) micros(at int64) int64 {
	sum, last, tempo := int64(0), int64(0), int64(500_000)
	for _, c := range s.Tempos {
		if c.At >= at {
			break
		}
		sum += (c.At - last) * tempo
		last, tempo = c.At, c.Micros
	}
	return (sum + (at-last)*tempo) / int64(s.Division)
}
