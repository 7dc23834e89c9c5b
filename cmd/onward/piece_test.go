package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/file"
	"onward/midi/live"
)

// duet is a printed piece of two parts, four measures in 3/4 with a repeat.
const duet = `<score-partwise version="4.0"><work><work-title>Two by two</work-title></work>
<part-list><score-part id="P1"><part-name>1st Horn</part-name></score-part><score-part id="P2"><part-name>Tuba</part-name></score-part><score-part id="P3"><part-name>Nobody</part-name></score-part></part-list>
<part id="P1">
<measure number="1"><attributes><divisions>2</divisions><key><fifths>1</fifths><mode>major</mode></key><time><beats>3</beats><beat-type>4</beat-type></time><clef><sign>G</sign><line>2</line></clef><transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose></attributes>
<direction><direction-type><dynamics><p/></dynamics></direction-type><sound tempo="90"/></direction>
<note><pitch><step>G</step><octave>4</octave></pitch><duration>6</duration><type>half</type><dot/></note></measure>
<measure number="2"><note><grace/><pitch><step>A</step><octave>4</octave></pitch></note><note><pitch><step>B</step><octave>4</octave></pitch><duration>2</duration></note><note><pitch><step>C</step><alter>1</alter><octave>5</octave></pitch><duration>2</duration><accidental>sharp</accidental></note><note><pitch><step>D</step><octave>5</octave></pitch><duration>2</duration></note>
<barline location="right"><repeat direction="backward"/></barline></measure>
<measure number="3"><note><rest measure="yes"/><duration>6</duration></note></measure>
<measure number="4"><note><pitch><step>G</step><octave>4</octave></pitch><duration>6</duration></note></measure></part>
<part id="P2"><measure number="1"><attributes><divisions>1</divisions></attributes><note><pitch><step>C</step><octave>2</octave></pitch><duration>3</duration></note></measure>
<measure number="2"><note><pitch><step>G</step><octave>2</octave></pitch><duration>3</duration></note></measure>
<measure number="3"><note><pitch><step>C</step><octave>2</octave></pitch><duration>3</duration></note></measure>
<measure number="4"><note><pitch><step>C</step><octave>2</octave></pitch><duration>3</duration></note></measure></part>
<part id="P3"><measure number="1"/></part>
</score-partwise>`

// lone is the duet's first part alone.
var lone = strings.ReplaceAll(duet[:strings.Index(duet, `<part id="P2">`)]+"</score-partwise>",
	`<score-part id="P2"><part-name>Tuba</part-name></score-part><score-part id="P3"><part-name>Nobody</part-name></score-part>`, "")

func pieceStage(t *testing.T) *stage {
	t.Helper()
	s := newStage(t)
	for name, text := range map[string]string{"duet.musicxml": duet, "lone.xml": lone, "page.xml": "<html/>"} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// A printed piece is looked over and played as a read is, and leaves no files.
func TestPiece(t *testing.T) {
	s := pieceStage(t)
	out := fine(t, s, "read --piece duet.musicxml --part 1")
	inOrder(t, out, "Two by two\n", "you        part 1 of 3, 1st Horn\n", "band       Tuba\n", "sound      a loudspeaker\n", "Look it over:\n",
		"clef, key  treble clef; G major, 1 sharp (F); it sounds in C major\n", "meter      3/4: 3 beats in a measure, each a quarter\n",
		"tempo      quarter = 90\n", "form       6 measures as played: 1 to 2, 1 to 4\n", "dynamics   starts p\n", "outside    C-sharp in 2\n",
		"grace      grace notes in measure 2\n", "starts     G\n", "range      G4 to D5\n", "most notes measure 2, 4 notes\n",
		"the count-in comes in 30s\n", "tonic chord\n", "count-in 1\n", "count-in 2\n", "measure 1 of 4\n", "measure 2 of 4\n", "measure 1 of 4, second time\n", "measure 3 of 4\n",
		"The end.", "again      onward read --piece duet.musicxml --part 1\n")
	wantFiles(t, ".", "duet.musicxml", "lone.xml", "page.xml")
	if len(s.rolls) != 1 {
		t.Fatalf("%d takes", len(s.rolls))
	}
	struck := func(r *live.Roll) (n int) {
		for _, e := range r.Events {
			if e.Msg[0]&0xF0 == 0x90 && e.Msg[0]&15 != 9 && e.Msg[0]&15 != 15 {
				n++
			}
		}
		return n
	}
	if got := struck(s.rolls[0]); got != 6 {
		t.Errorf("the tuba strikes %d notes, want 6", got)
	}
	guided := rollOf(t, s, "read --piece duet.musicxml --part tuba --guide --look-over 0")
	if got := struck(guided); got != 6+11 {
		t.Errorf("with the guide %d notes, want 17", got)
	}
	slow := rollOf(t, s, "read --piece duet.musicxml --part 1 --slower 50% --no-tonic --count-in 1 --tempo 120 --look-over 0")
	if want := 7 * 3 * 2 * 500; slow.End.Milliseconds() != int64(want) {
		t.Errorf("seven measures at a quarter = 60 last %v", slow.End)
	}
	inOrder(t, s.out.String(), "again      onward read --piece duet.musicxml --part 1 --tempo 120 --slower 50% --count-in 1 --no-tonic\n")
}

// A part alone has the band of a style, and chords.
func TestPieceAlone(t *testing.T) {
	s := pieceStage(t)
	inOrder(t, fine(t, s, "read --piece lone.xml"), "you        part 1 of 1, 1st Horn\n", "band       there is no other part: the band of the style march plays", "The end.")
	inOrder(t, fine(t, s, "read --piece lone.xml --tempo 60"), "the band of the style lyrical plays")
	inOrder(t, fine(t, s, "read --piece lone.xml --style lyrical"), "the band of the style lyrical plays", "again      onward read --piece lone.xml --part 1 --style lyrical\n")
	if march, song := len(s.rolls[0].Events), len(s.rolls[2].Events); march == song || march < 40 {
		t.Errorf("%d events by a march's band, %d by a song's", march, song)
	}
}

// The journal keeps the takes of a part under one read, and reads go on after it.
func TestPieceInTheJournal(t *testing.T) {
	s := pieceStage(t)
	fine(t, s, "write --instrument trumpet --seed 1 --out x")
	for _, part := range []string{"1", "1", "2"} {
		fine(t, s, "read --piece duet.musicxml --look-over 0 --part "+part)
	}
	all := takes(t, s)
	if len(all) != 3 || all[0].ReadID != 3 || all[1].ReadID != 2 || all[2].ReadID != 2 || all[0].Outcome != journal.KeptGoing {
		t.Errorf("takes %+v", all)
	}
	inOrder(t, fine(t, s, "write --seed 2 --out x"), "Trumpet", "3 earlier reads")
}

// What a printed piece is says nothing of the next warm-up, nor of the next read: it has no
// rung, and it may be for another's instrument.
func TestPieceIsNotTheLastRead(t *testing.T) {
	s := pieceStage(t)
	piece := "read --piece duet.musicxml --look-over 0 --part 1"
	fine(t, s, piece)
	inOrder(t, fine(t, s, "warmup --day 2026-03-01 --json"), `"id": "`+usualInstrument+`"`, fmt.Sprintf(`"rung": %d,`, usualRung))
	fine(t, s, "write --instrument trumpet --rung 5 --seed 1 --out x")
	s.clock = s.clock.Add(time.Hour)
	fine(t, s, "read --piece duet.musicxml --look-over 0 --part 2")
	inOrder(t, fine(t, s, "warmup --day 2026-03-02 --json"), `"id": "trumpet"`, `"rung": 5,`)
	inOrder(t, fine(t, s, "write --seed 2 --out x"), "Trumpet")
}

// A piece that was played does not change which style is next.
func TestPieceIsNoStyle(t *testing.T) {
	s := pieceStage(t)
	fine(t, s, "read --style lyrical --seed 1 --look-over 0 --out x")
	s.clock = s.clock.Add(time.Hour)
	fine(t, s, "read --piece duet.musicxml --look-over 0 --part 1")
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	c, err := openClimb(t.Context(), s.env, j)
	if err != nil {
		t.Fatal(err)
	}
	if c.last == nil || c.last.Style != "lyrical" {
		t.Errorf("last is %+v, want the lyrical read", c.last)
	}
}

// With --out the band's MIDI file is a practice track; it takes no other file's place.
func TestPieceTrack(t *testing.T) {
	s := pieceStage(t)
	read := "read --piece duet.musicxml --look-over 0 --out x --part "
	inOrder(t, fine(t, s, read+"1"), "written    "+filepath.Join("x", "duet-part-1.mid")+" (.mid)\n")
	fine(t, s, read+"1 --slower 80%")
	fine(t, s, read+"2 --wav --sound builtin")
	wantFiles(t, "x", "x/duet-part-1.mid", "x/duet-part-2.mid", "x/duet-part-2.wav")
	line, err := file.Read(bytes.NewReader(load(t, "x/duet-part-1.mid")))
	if err != nil || line.Tempos[0].MicrosPerQuarter != 833_334 || len(line.Events) < 12 {
		t.Errorf("%v, tempos %v", err, line.Tempos)
	}
	if err := os.WriteFile("x/duet-part-1.mid", []byte("another's"), 0o644); err != nil {
		t.Fatal(err)
	}
	fine(t, s, read+"1")
	if string(load(t, "x/duet-part-1.mid")) != "another's" || len(load(t, "x/duet-part-1-2.mid")) < 100 {
		t.Error("another file was written over")
	}
}

// What cannot be played is refused with its place, before anything is written.
func TestPieceRefusals(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"read --piece duet.musicxml", "has 3 parts; choose yours with --part, by number or name:\n  1   1st Horn\n  2   Tuba\n  3   Nobody\n"},
		{"read --piece duet.musicxml --part 4", "--part 4: duet.musicxml has no one part of this number or name; it has:\n  1   1st Horn"},
		{"read --piece duet.musicxml --part 3", "part 3, Nobody: it has no notes to play"},
		{"read --piece no.xml", "piece no.xml: no such file"},
		{"read --piece page.xml", "page.xml: the file is not MusicXML"},
		{"read --piece .", "piece .: it is a folder"},
		{"read --part 1", "--part 1: it is for --piece FILE"},
		{"read --piece duet.musicxml --part 1 --rung 4", "--rung with --piece: it is for fresh reads"},
		{"read --piece duet.musicxml --part 1 --seed 4", "--seed with --piece"},
		{"read --piece duet.musicxml --part 1 --rubato", "--rubato with --piece"},
		{"read --piece duet.musicxml --part 1 --style march", "leave --style out"},
		{"read --piece lone.xml --style dirge", "`onward styles` lists them"},
		{"read --piece lone.xml --tempo 10", "20 to 300"},
		{"read --piece lone.xml --out lone.xml/x", "folder lone.xml/x"},
		{"write --piece lone.xml", "unknown flag: --piece"},
	} {
		s := pieceStage(t)
		code, out, err := s.run(strings.Fields(c.args)...)
		if code != exitRequest || !strings.Contains(err, c.want) || out != "" || len(s.rolls) > 0 {
			t.Errorf("onward %s: exit code %d, printed %q and %q, want code 2 and %q", c.args, code, out, err, c.want)
		}
		wantFiles(t, ".", "duet.musicxml", "lone.xml", "page.xml")
	}
}
