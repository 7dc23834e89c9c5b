package band_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose/musicxml"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
)

// pieceOf reads a piece from parts of text; a part's first words may be "NAME:".
func pieceOf(t *testing.T, text string) *musicxml.Piece {
	t.Helper()
	p, err := musicxml.ReadPiece(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// partsText is a document of parts by name, each with the elements of its measures.
func partsText(parts ...[]string) string {
	var list, body strings.Builder
	for i, p := range parts {
		fmt.Fprintf(&list, `<score-part id="P%d"><part-name>%s</part-name></score-part>`, i, p[0])
		fmt.Fprintf(&body, `<part id="P%d">`, i)
		for k, m := range p[1:] {
			head := ""
			if k == 0 {
				head = `<attributes><divisions>2</divisions><key><fifths>-1</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>`
			}
			fmt.Fprintf(&body, `<measure number="%d">%s%s</measure>`, k+1, head, m)
		}
		body.WriteString("</part>")
	}
	return "<score-partwise><part-list>" + list.String() + "</part-list>" + body.String() + "</score-partwise>"
}

// n is a note element: pitch, duration in eighths (0 for a grace note), more inside.
func n(pitch string, duration int, more ...string) string {
	head, length := "", fmt.Sprintf("<duration>%d</duration>", duration)
	if duration == 0 {
		head, length = "<grace/>", ""
	}
	tail := ""
	for _, m := range more {
		if m == "chord" {
			head += "<chord/>"
		} else {
			tail += m
		}
	}
	return fmt.Sprintf(`<note>%s<pitch><step>%c</step><octave>%c</octave></pitch>%s%s</note>`, head, pitch[0], pitch[1], length, tail)
}

const back = `<barline location="right"><repeat direction="backward"/></barline>`

// struckOn lists the notes of a track as "at+hold:key", in eighths.
func struckOn(l *timeline.Timeline, name string) string {
	var words []string
	for _, h := range track(l, name) {
		words = append(words, fmt.Sprintf("%s+%s:%d", eighthsOf(int64(h.at)), eighthsOf(int64(h.end-h.at)), h.key))
	}
	return strings.Join(words, " ")
}

func eighthsOf(ticks int64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", float64(ticks)/float64(rhythm.Eighth)), "0"), ".")
}

func accompany(t *testing.T, p *musicxml.Piece, part int, opts band.PieceOptions) *timeline.Timeline {
	t.Helper()
	line, err := band.Accompany(p, part, opts)
	if err != nil {
		t.Fatal(err)
	}
	return line
}

// The others play, the player's part is silent or sounds with the guide; repeats, ties over
// barlines, chords and grace notes are played. A plain note lasts an eighth less, at most a
// 32nd (package timeline).
func TestAccompany(t *testing.T) {
	tie := func(kind string) string { return `<tie type="` + kind + `"/>` }
	p := pieceOf(t, partsText(
		[]string{"Tuba", n("F2", 8), n("C2", 4) + n("F2", 4) + back},
		[]string{"Horn", n("A4", 4) + n("C5", 4, tie("start")), n("C5", 4, tie("stop")) + n("B4", 0) + n("A4", 4) + n("F4", 4, "chord")}))
	line := accompany(t, p, 0, band.PieceOptions{})
	if got, want := struckOn(line, "Horn"), "0+3.75:69 4+7.417:72 11.667+0.333:71 12+3.75:65 12+3.75:69 16+3.75:69 20+7.417:72 27.667+0.333:71 28+3.75:65 28+3.75:69"; got != want {
		t.Errorf("horn\n got %s\nwant %s", got, want)
	}
	if strings.Contains(line.Text(), `"Tuba"`) {
		t.Error("the player's part is played")
	}
	guided := accompany(t, p, 0, band.PieceOptions{Options: band.Options{Guide: true}})
	if got, want := struckOn(guided, "Tuba"), "0+7.75:41 8+3.75:36 12+3.75:41 16+7.75:41 24+3.75:36 28+3.75:41"; got != want {
		t.Errorf("tuba\n got %s\nwant %s", got, want)
	}
	if b := guided.Beats[len(guided.Beats)-1]; b.Measure != 1 || b.Number != 2 || b.Pass != 2 || b.Beat != 4 || b.Of != 4 {
		t.Errorf("last beat %+v", b)
	}
	if _, err := band.Accompany(p, 2, band.PieceOptions{}); err == nil {
		t.Error("a third part is played")
	}
}

// The count-in, the tempo asked for and the percentage are those of a read; tempos inside
// measures keep their proportion.
func TestAccompanyTempo(t *testing.T) {
	sound := func(q string) string { return `<sound tempo="` + q + `"/>` }
	p := pieceOf(t, partsText([]string{"Horn", sound("60") + n("C4", 4) + sound("90") + n("D4", 4), n("C4", 8) + back}, []string{"Tuba", n("F2", 8)}))
	for _, c := range []struct {
		opts band.PieceOptions
		want []int
	}{
		{band.PieceOptions{}, []int{1_000_000, 666_667, 1_000_000, 666_667}},
		{band.PieceOptions{Tempo: 120}, []int{500_000, 333_334, 500_000, 333_334}},
		{band.PieceOptions{Options: band.Options{Percent: 50}}, []int{2_000_000, 1_333_334, 2_000_000, 1_333_334}},
	} {
		c.opts.CountIn = timeline.CountIn{Chord: true, Measures: timeline.ByMeter}
		line := accompany(t, p, 0, c.opts)
		var got []int
		for _, tempo := range line.Tempos {
			got = append(got, tempo.MicrosPerQuarter)
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) || line.Tempos[1].At != rhythm.Offset(line.CountIn+rhythm.Half) {
			t.Errorf("%+v: tempos %v, want %v", c.opts, line.Tempos, c.want)
		}
	}
}

// Eighteen instruments share fifteen channels by program, and percussion has the tenth.
func TestAccompanyChannels(t *testing.T) {
	var parts [][]string
	for _, name := range []string{"Flute", "Flute 2", "Oboe", "Bassoon", "Clarinet 1", "Clarinet 2", "Clarinet 3", "Alto Sax", "Tenor Sax", "Horn 1", "Horn 2", "Trumpet 1", "Trumpet 2", "Trombone", "Tuba", "Violin", "Viola", "Cello", "Harp"} {
		parts = append(parts, []string{name, n("C4", 8)})
	}
	parts = append(parts, []string{"Snare Drum", `<note><unpitched/><duration>8</duration></note>`})
	line := accompany(t, pieceOf(t, partsText(parts...)), 0, band.PieceOptions{Options: band.Options{CountIn: timeline.FullCountIn(), Guide: true}})
	channels, programs := map[string]uint8{}, map[uint8]map[uint8]bool{}
	for _, e := range line.Events {
		if e.Kind == timeline.Program {
			if programs[e.Channel] == nil {
				programs[e.Channel] = map[uint8]bool{}
			}
			programs[e.Channel][e.A] = true
			channels[line.Tracks[e.Track]] = e.Channel
		}
	}
	for channel, list := range programs {
		if len(list) != 1 {
			t.Errorf("channel %d has the programs %v", channel+1, list)
		}
	}
	if channels["Flute"] != channels["Flute 2"] || channels["Trumpet 1"] != channels["Trumpet 2"] || channels["Oboe"] == channels["Bassoon"] || channels["Tonic chord"] != 15 {
		t.Errorf("channels %v", channels)
	}
	if drums := struckOn(line, "Snare Drum"); !strings.HasSuffix(drums, ":38") {
		t.Errorf("drums %s", drums)
	}
}

// Chords to plain tunes are those that anybody would play (common practice).
func TestHarmonize(t *testing.T) {
	for _, c := range []struct{ measures, want string }{
		{"F4 A4 C5 A4|G4 C5 E5 C5|B4 D5 B4 D5|C5 E5 G5 E5|F5 C5 A4 F4", "F|C|Bb|C|F"},
		{"A4 A4 A4 A4|D5 F5 D5 A4|E5 C5 G4 C5|F4 F4 F4 F4", "F|Dm|C|F"},
	} {
		part := []string{"Horn"}
		for _, m := range strings.Split(c.measures, "|") {
			text := ""
			for _, pitch := range strings.Fields(m) {
				note := n(pitch, 2)
				if pitch[0] == 'B' {
					note = strings.Replace(note, "</step>", "</step><alter>-1</alter>", 1)
				}
				text += note
			}
			part = append(part, text)
		}
		var got []string
		last := -1
		for _, chord := range band.Harmonize(pieceOf(t, partsText(part)), 0) {
			if chord.Measure != last {
				got = append(got, strings.TrimSuffix(chord.Chord.String(), "7"))
			}
			last = chord.Measure
		}
		if strings.Join(got, "|") != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.measures, strings.Join(got, "|"), c.want)
		}
	}
}

// A tune begins and ends on the tonic chord, whichever of its notes stands there (common
// practice), and though the dominant has the note, too.
func TestHarmonizeClosesOnTheTonic(t *testing.T) {
	for _, c := range []struct{ first, last, want string }{
		{"F4", n("F4", 8), "F"}, {"C5", n("A4", 8), "F"}, {"A4", n("C5", 8), "F"}, {"F4", n("D4", 8), "Dm"},
		{"F4", n("F4", 6) + n("D5", 1) + n("F4", 1), "F"}, // a chord on D or B flat would have both
	} {
		p := pieceOf(t, partsText([]string{"Horn", n(c.first, 8), n("G4", 4) + n("D5", 4), n("E4", 4) + n("G4", 4), c.last}))
		chords := band.Harmonize(p, 0)
		first, last := chords[0], chords[len(chords)-1]
		if first.Chord.String() != c.want || last.Chord.String() != c.want || last.Measure != 3 || last.At != rhythm.Offset(rhythm.Half) {
			t.Errorf("from %s to %s: %s in the end %s, in measure %d at %d; want %s in both halves", c.first, c.last, first.Chord, last.Chord, last.Measure, last.At, c.want)
		}
	}
}

// Who stops on the dominant has the dominant, and one measure has one chord.
func TestHarmonizeEndsWhereTheLineDoes(t *testing.T) {
	p := pieceOf(t, partsText([]string{"Horn", n("F4", 8), n("A4", 4) + n("E4", 2) + n("G4", 2)}))
	if chords := band.Harmonize(p, 0); chords[len(chords)-1].Chord.Root.String() != "C" {
		t.Errorf("E and G in the end: %v, want C", chords)
	}
	text := strings.Replace(partsText([]string{"Horn", n("F4", 6)}), "<beats>4<", "<beats>3<", 1)
	if chords := band.Harmonize(pieceOf(t, text), 0); len(chords) != 1 || chords[0].Chord.String() != "F" {
		t.Errorf("a measure of F in 3/4: %v, want F", chords)
	}
}

// Where the file does not tell major from minor, the last note does.
func TestTonicOfASignature(t *testing.T) {
	for last, want := range map[string]string{"F4": "F major", "D4": "D minor", "A4": "F major"} {
		line := accompany(t, pieceOf(t, partsText([]string{"Horn", n("A4", 8), n(last, 8)})), 0, band.PieceOptions{})
		if got := line.Keys[0].Key.String(); got != want {
			t.Errorf("one flat, the last note %s: %s, want %s", last, got, want)
		}
	}
}

// Chord symbols are played where there are some: each measure begins with one.
func TestChordSymbols(t *testing.T) {
	symbol := func(root, kind string) string {
		return "<harmony><root><root-step>" + root + "</root-step></root><kind>" + kind + "</kind></harmony>"
	}
	p := pieceOf(t, partsText([]string{"Horn", n("F4", 4) + symbol("G", "minor-seventh") + n("G4", 4), symbol("C", "dominant-13th") + n("E4", 8), n("C4", 8), symbol("X", "minor") + symbol("F", "major") + n("F4", 8)}))
	if got, want := fmt.Sprint(band.ChordsOf(p, 0)), "[{0 0 F} {0 20160 Gm7} {1 0 C7} {2 0 C7} {3 0 F}]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// A part alone has a band that plays to it in any meter, in major and minor.
func TestBandForAPartAlone(t *testing.T) {
	for _, style := range styles.Names() {
		sheet, err := styles.Shipped(style)
		if err != nil {
			t.Fatal(err)
		}
		for _, meter := range []string{"2/4", "3/4", "4/4", "2/2", "6/8", "3/8", "9/8", "12/8", "5/4", "7/8", "5/8", "3/2", "1/4", "11/16"} {
			beats, unit, _ := strings.Cut(meter, "/")
			text := partsText([]string{"Horn", n("A4", 2), n("C5", 2), n("F4", 2)})
			text = strings.Replace(text, "<beats>4</beats><beat-type>4<", "<beats>"+beats+"</beats><beat-type>"+unit+"<", 1)
			p := pieceOf(t, text)
			for i := range p.Measures {
				p.Measures[i].Length = p.Measures[i].Meter.Measure()
			}
			line := accompany(t, p, 0, band.PieceOptions{Style: sheet, Options: band.Options{CountIn: timeline.FullCountIn(), Click: band.EveryBeat}})
			played := 0
			for _, e := range line.Events {
				if e.Kind == timeline.NoteOn && e.Channel != timeline.DrumsChannel && e.At >= rhythm.Offset(line.CountIn) {
					played++
				}
			}
			if played < 3 {
				t.Errorf("%s in %s: the band strikes %d notes", style, meter, played)
			}
		}
	}
}

// Our own pages, read as any program's, sound as the reads do: the same notes at the same
// places. Grace notes and dynamics are ours on both sides.
func TestOwnPagesSoundAsReads(t *testing.T) {
	notes := 0
	for _, a := range reads(t)[:40] {
		want := arrange(t, a, band.Options{Guide: true, CountIn: timeline.FullCountIn()})
		var page bytes.Buffer
		if err := musicxml.Write(&page, a.r.Score); err != nil {
			t.Fatal(err)
		}
		p, err := musicxml.ReadPiece(&page)
		if err != nil {
			t.Fatalf("%s: %v", a.name, err)
		}
		got := accompany(t, p, 0, band.PieceOptions{Options: band.Options{Guide: true, CountIn: timeline.FullCountIn()}})
		name := a.r.Score.Parts[0].Name
		if g, w := struckOn(got, name), struckOn(want, name); g != w {
			t.Errorf("%s:\n got %s\nwant %s", a.name, g, w)
		}
		if fmt.Sprint(got.Tempos) != fmt.Sprint(want.Tempos) || fmt.Sprint(got.Beats) != fmt.Sprint(want.Beats) || got.End != want.End {
			t.Errorf("%s: tempos, beats or end differ: %v, %v", a.name, got.Tempos, want.Tempos)
		}
		notes += len(track(got, name))
	}
	t.Logf("%d notes", notes)
}

// Every sample file by other programs is played, by itself and with each style's band.
func TestSamplesPlay(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join("..", "..", "..", "shared", "samples", "*", "*.*ml"))
	if len(files) < 90 {
		absent(t, "the samples are not at ../shared/samples")
	}
	for _, file := range files {
		p := sample(t, file)
		for part := range p.Parts {
			accompany(t, p, part, band.PieceOptions{Options: band.Options{CountIn: timeline.CountIn{Chord: true, Measures: timeline.ByMeter}, Click: band.OffBeats}})
		}
		for _, style := range styles.Names() {
			sheet, err := styles.Shipped(style)
			if err != nil {
				t.Fatal(err)
			}
			accompany(t, p, 0, band.PieceOptions{Style: sheet, Options: band.Options{Guide: true, Percent: 60}})
		}
	}
}

func sample(t *testing.T, file string) *musicxml.Piece {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := musicxml.ReadPieceFile(filepath.Base(file), bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// absent skips a test that lacks something outside the project, or fails it where
// ONWARD_OUTSIDE=1 says that it must be there.
func absent(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}
