package musicxml

import (
	"archive/zip"
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/rhythm"
)

// piece reads a document of parts given by their measures, each a list of elements.
func piece(t *testing.T, parts ...[]string) *Piece {
	t.Helper()
	p, err := ReadPiece(strings.NewReader(pieceText(parts...)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func pieceText(parts ...[]string) string {
	var list, body strings.Builder
	for i, measures := range parts {
		fmt.Fprintf(&list, `<score-part id="P%d"><part-name>Part %d</part-name></score-part>`, i+1, i+1)
		fmt.Fprintf(&body, `<part id="P%d">`, i+1)
		for k, m := range measures {
			fmt.Fprintf(&body, `<measure number="%d">%s</measure>`, k+1, m)
		}
		body.WriteString(`</part>`)
	}
	return `<score-partwise version="4.0"><part-list>` + list.String() + `</part-list>` + body.String() + `</score-partwise>`
}

const four = `<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>`

// note is a note of a pitch such as C4 or F#4; more stands inside it behind the voice.
func note(pitch string, duration int, more ...string) string {
	alter := ""
	if len(pitch) == 3 {
		alter = `<alter>` + map[byte]string{'#': "1", 'b': "-1"}[pitch[1]] + `</alter>`
	}
	head, tail := "", ""
	voice := "1"
	for _, m := range more {
		switch {
		case m == "chord" || m == "cue" || m == "grace":
			head += "<" + m + "/>"
		case strings.HasPrefix(m, "v"):
			voice = m[1:]
		default:
			tail += m
		}
	}
	length := fmt.Sprintf(`<duration>%d</duration>`, duration)
	if duration == 0 {
		length = ""
	}
	return fmt.Sprintf(`<note>%s<pitch><step>%c</step>%s<octave>%c</octave></pitch>%s<voice>%s</voice>%s</note>`, head, pitch[0], alter, pitch[len(pitch)-1], length, voice, tail)
}

// said lists the notes of a measure as "at+length:key", in quarters' ticks of eighths; marks
// behind.
func said(notes []PieceNote) string {
	var words []string
	for _, n := range notes {
		w := fmt.Sprintf("%s+%s:%d", eighths(rhythm.Duration(n.At)), eighths(n.Length), n.Key)
		for mark, is := range map[string]bool{"g": n.Grace, "'": n.Staccato, ">": n.Accent, "_": n.Tenuto} {
			if is {
				w += mark
			}
		}
		if n.TieStart {
			w += "~"
		}
		if n.TieStop {
			w = "~" + w
		}
		words = append(words, w)
	}
	return strings.Join(words, " ")
}

func eighths(d rhythm.Duration) string {
	if d%rhythm.Eighth == 0 {
		return fmt.Sprint(int64(d / rhythm.Eighth))
	}
	return fmt.Sprintf("%.3f", float64(d)/float64(rhythm.Eighth))
}

// Everything that sounds is read: voices, chords, tuplets, ties, grace notes, what other
// clefs and unknown elements stand among.
func TestReadPiece(t *testing.T) {
	triplet := `<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>`
	for _, c := range []struct{ name, measure, want string }{
		{"voices", note("C5", 4) + note("D5", 4) + `<backup><duration>8</duration></backup>` + note("E4", 8, "v2"), "0+4:72 0+8:64 4+4:74"},
		{"forward", `<forward><duration>6</duration></forward>` + note("C4", 2), "6+2:60"},
		{"chord", note("C4", 4) + note("E4", 4, "chord") + note("G4", 4, "chord") + note("C4", 4), "0+4:60 0+4:64 0+4:67 4+4:60"},
		{"ties", note("C4", 4, `<tie type="start"/>`) + note("C4", 4, `<notations><tied type="stop"/></notations>`), "0+4:60~ ~4+4:60"},
		{"a triplet in divisions of two", note("C4", 1, triplet) + note("D4", 1, triplet) + note("E4", 0, triplet) + note("F4", 2), "0+0.667:60 0.667+0.667:62 1.333+0.667:64 2+2:65"},
		{"graces", note("D4", 0, "grace") + note("E4", 0, "grace") + note("C4", 8), "0+0:62g 0+0:64g 0+8:60"},
		{"a chord of grace notes", note("D4", 0, "grace") + note("F4", 0, "grace", "chord") + note("C4", 8), "0+0:62g 0+0:65g 0+8:60"},
		{"cue", note("C4", 4, "cue") + note("D4", 4), "4+4:62"},
		{"articulation", note("C4", 4, `<notations><articulations><staccato/><accent/></articulations></notations>`) + note("D4", 4, `<notations><articulations><tenuto/></articulations></notations>`), ""},
		{"rest, bookmark and figures", `<note><rest/><duration>2</duration></note><bookmark id="x"/><figured-bass/><strange><note/></strange>` + note("C4", 6), "2+6:60"},
		{"a rest without duration", `<note><rest measure="yes"/><voice>1</voice><type>whole</type></note>`, ""},
		{"other clefs", `<attributes><clef><sign>percussion</sign></clef><clef number="2"><sign>C</sign><line>1</line></clef></attributes>` + note("C4", 8), "0+8:60"},
		{"a rest of many measures", `<attributes><measure-style><multiple-rest>8</multiple-rest></measure-style></attributes>`, ""},
		{"B-flat instrument", `<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>` + note("C4", 4) +
			`<attributes><transpose><chromatic>-5</chromatic><octave-change>-1</octave-change></transpose></attributes>` + note("C4", 4), "0+4:58 4+4:43"},
		{"quarter tone", strings.Replace(note("C#4", 8), ">1<", ">0.5<", 1), "0+8:60"},
		{"divisions that change", note("C4", 2) + `<attributes><divisions>6</divisions></attributes>` + note("D4", 6), "0+2:60 2+2:62"},
		{"eleven to a half", `<attributes><divisions>11</divisions></attributes>` + strings.Repeat(note("C4", 2), 11) + note("D4", 22), "4+4:62"},
	} {
		p := piece(t, []string{four + c.measure})
		got := said(p.Parts[0].Notes[0])
		switch c.name {
		case "articulation":
			n := p.Parts[0].Notes[0]
			if !n[0].Staccato || !n[0].Accent || n[0].Tenuto || !n[1].Tenuto {
				t.Errorf("%s: %+v", c.name, n)
			}
		case "eleven to a half":
			if !strings.HasSuffix(got, " "+c.want) {
				t.Errorf("%s: %s", c.name, got)
			}
		default:
			if got != c.want {
				t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
			}
		}
		if p.Measures[0].Length != rhythm.Whole && c.name != "voices" && c.name != "divisions that change" && p.Measures[0].Length != lengthOf(p) {
			t.Errorf("%s: the measure lasts %d", c.name, p.Measures[0].Length)
		}
	}
}

// lengthOf is how far the notes of a first measure go.
func lengthOf(p *Piece) rhythm.Duration {
	var end rhythm.Offset
	for _, n := range p.Parts[0].Notes[0] {
		end = max(end, n.At.Add(n.Length))
	}
	return rhythm.Duration(end)
}

// Tempos come from figures, from sound elements and from equal values, inside measures too;
// else from a word.
func TestPieceTempos(t *testing.T) {
	metronome := func(unit, dot, number string) string {
		return `<direction><direction-type><metronome><beat-unit>` + unit + `</beat-unit>` + dot + `<per-minute>` + number + `</per-minute></metronome></direction-type></direction>`
	}
	equal := `<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit><beat-unit-dot/></metronome></direction-type></direction>`
	words := func(w string) string {
		return `<direction><direction-type><words>` + w + `</words></direction-type></direction>`
	}
	half := note("C4", 4)
	for _, c := range []struct{ measure, want string }{
		{metronome("quarter", "", "60") + half, "0:1000000"},
		{metronome("quarter", "<beat-unit-dot/>", "c. 80") + half, "0:500000"},
		{metronome("half", "", "66.5") + half, "0:451128"},
		{`<sound tempo="92.5"/>` + half, "0:648649"},
		{half + `<direction><direction-type><words>a tempo</words></direction-type><sound tempo="120"/></direction>` + half, "0:500000 4:500000"},
		{metronome("quarter", "", "60") + half + metronome("quarter", "", "90") + half, "0:1000000 4:666667"},
		{metronome("quarter", "", "60") + half + equal + half, "0:1000000 4:666667"}, // a quarter becomes a dotted quarter
		{words("Andante con moto") + half, "0:714286"},
		{words("Tempo di marcia") + half, "0:517241"},
		{words("Allegro moderato") + half, "0:517241"},
		{half, "0:500000"},
		{`<sound tempo="100000"/>` + half, "0:500000"},
	} {
		var got []string
		for _, m := range piece(t, []string{four + c.measure}).Measures[0].Tempos {
			got = append(got, fmt.Sprintf("%s:%d", eighths(rhythm.Duration(m.At)), m.MicrosPerQuarter))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s:\n got %v\nwant %s", c.measure, got, c.want)
		}
	}
}

// Signs are found wherever programs put them: in barlines, in sound elements, in words.
func TestPieceSigns(t *testing.T) {
	barline := func(where, inside string) string {
		return `<barline location="` + where + `">` + inside + `</barline>`
	}
	direction := func(inside, sound string) string {
		return `<direction><direction-type>` + inside + `</direction-type>` + sound + `</direction>`
	}
	c := note("C4", 8)
	for name, m := range map[string][]string{
		"1 1 2":         {four + c + barline("right", `<repeat direction="backward"/>`), c},
		"1 1 1 1 2":     {four + c + barline("right", `<repeat direction="backward" times="4"/>`), c},
		"1 2 1 3 1 3 4": {four + c, barline("left", `<ending number="1" type="start"/>`) + c + barline("right", `<ending number="1" type="stop"/><repeat direction="backward"/>`), barline("left", `<ending number="2, 3" type="start"/>`) + c + barline("right", `<ending number="2,3" type="stop"/><repeat direction="backward"/>`), c},
		"1 2 1 3":       {four + c, barline("left", `<ending number="" type="start"/>`) + c + barline("right", `<ending number="" type="stop"/><repeat direction="backward"/>`), barline("left", `<ending number="" type="start"/>`) + c + barline("right", `<ending number="" type="stop"/>`)},
		"1 2 3 2":       {four + c, direction(`<segno/>`, "") + c + direction(`<words>Fine</words>`, ""), c + direction(`<words>D.S. al Fine</words>`, `<sound dalsegno="yes"/>`)},
		"1 2 3 1 2 4":   {four + c, c + direction(`<coda/>`, `<sound tocoda="coda1"/>`), c + direction(`<words>D.C. al Coda</words>`, ""), direction(`<coda/>`, `<sound coda="coda1"/>`) + c},
		"1 2 3 4 2 5":   {four + c, barline("left", `<segno/>`) + c + direction(`<words>To Coda</words>`, ""), c, c + direction(`<words>D. S. al Coda.</words>`, ""), direction(`<words>Coda</words>`, "") + c},
	} {
		var got []string
		for _, o := range piece(t, m).Order {
			got = append(got, fmt.Sprint(o.Index+1))
		}
		if strings.Join(got, " ") != name {
			t.Errorf("got %v, want %s", got, name)
		}
	}
}

// What each part says counts for all: measures, signs and tempos are joined.
func TestPieceParts(t *testing.T) {
	p := piece(t, []string{four, ""}, []string{four + note("C4", 8) + `<barline location="right"><repeat direction="backward"/></barline>`, `<sound tempo="60"/>` + note("D4", 4), note("E4", 8)})
	if len(p.Measures) != 3 || len(p.Order) != 4 || p.Measures[1].Length != rhythm.Half || len(p.Parts[0].Notes) != 3 || len(p.Measures[1].Tempos) != 1 {
		t.Errorf("%d measures, order %v, second %+v", len(p.Measures), p.Order, p.Measures[1])
	}
	for which, want := range map[string]int{"1": 0, "2": 1, "part 2": 1, "P1": 0, "3": -1, "": -1, "Tuba": -1, "t 2": 1, "part": -1} {
		if got, ok := p.Part(which); ok != (want >= 0) || ok && got != want {
			t.Errorf("part %q: %d, %v", which, got, ok)
		}
	}
}

// Instruments have the program of the file, else of their name, else of their part's.
func TestPieceInstruments(t *testing.T) {
	read := func(head, measure string) []PieceInstrument {
		text := strings.Replace(pieceText([]string{four + measure}), `<part-name>Part 1</part-name>`, head, 1)
		p, err := ReadPiece(strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		return p.Parts[0].Instruments
	}
	unpitched := `<note><unpitched/><duration>8</duration></note>`
	for _, c := range []struct {
		head, measure string
		program       int
		percussion    bool
	}{
		{`<part-name>Oboe</part-name><score-instrument id="I"><instrument-name>Oboe</instrument-name></score-instrument><midi-instrument id="I"><midi-program>74</midi-program></midi-instrument>`, note("C4", 8), 73, false},
		{`<part-name>A</part-name><score-instrument id="I"><instrument-name>Bass Clarinet</instrument-name></score-instrument>`, note("C4", 8), 71, false},
		{`<part-name>A</part-name><score-instrument id="I"><instrument-name>x</instrument-name><instrument-sound>brass.trombone.bass</instrument-sound></score-instrument>`, note("C4", 8), 57, false},
		{`<part-name>1st Trombone</part-name>`, note("C4", 8), 57, false},
		{`<part-name>Anything</part-name>`, note("C4", 8), horn, false},
		{`<part-name>Anything</part-name>`, `<attributes><staves>2</staves></attributes>` + note("C4", 8), piano, false},
		{`<part-name>Drums</part-name><score-instrument id="I"><instrument-name>x</instrument-name></score-instrument><midi-instrument id="I"><midi-channel>10</midi-channel></midi-instrument>`, unpitched, 0, true},
	} {
		got := read(c.head, c.measure)
		if len(got) != 1 || got[0].Program != c.program || got[0].Percussion != c.percussion {
			t.Errorf("%s: %+v, want program %d", c.head, got, c.program)
		}
	}
	text := strings.Replace(pieceText([]string{four + unpitched}), `Part 1`, "Bass Drum", 1)
	if p, err := ReadPiece(strings.NewReader(text)); err != nil || p.Parts[0].Notes[0][0].Key != 36 {
		t.Errorf("a bass drum: %v, %v", p, err)
	}
}

// What makes the times unknown is refused, with the place.
func TestReadPieceRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{pieceText([]string{four + note("C4", 8), strings.Replace(note("C4", 8), "<step>C", "<step>H", 1)}), "part Part 1: measure 2: step \"H\""},
		{pieceText([]string{four + strings.Replace(note("C4", 8), "<duration>8", "<duration>x", 1)}), "measure 1: duration \"x\""},
		{pieceText([]string{four + `<note><pitch><step>C</step><octave>4</octave></pitch></note>`}), "neither duration nor type"},
		{pieceText([]string{four + `<forward><duration>9999</duration></forward>`}), "longer than 64 whole notes"},
		{pieceText(), "no part with music"},
		{`<score-timewise/>`, "no part with music"},
		{`<html/>`, "not MusicXML"},
		{`<score-partwise><part id="P1"><measure number="7"><note>`, "measure 7"},
	} {
		if _, err := ReadPiece(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

func TestReadPieceCompressed(t *testing.T) {
	var packed bytes.Buffer
	w := zip.NewWriter(&packed)
	for name, text := range map[string]string{
		"META-INF/container.xml": `<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>`,
		"a.xml":                  pieceText([]string{four + note("C4", 8)}),
	} {
		f, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		f.Write([]byte(text))
	}
	w.Close()
	p, err := ReadPieceFile("a.mxl", bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	if err != nil || said(p.Parts[0].Notes[0]) != "0+8:60" {
		t.Errorf("%v, %v", p, err)
	}
}

// All sample files by other programs are read.
func TestReadPieceSamples(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(samplesDir(t), "*", "*.*ml"))
	if len(files) < 90 {
		outside(t, "the samples are not at ../shared/samples")
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadPieceFile(filepath.Base(file), bytes.NewReader(text), int64(len(text)))
		if err != nil {
			t.Error(err)
			continue
		}
		seen := map[int]bool{}
		for _, o := range p.Order {
			seen[o.Index] = true
		}
		if len(seen) != len(p.Measures) {
			t.Errorf("%s: %d of %d measures are played", filepath.Base(file), len(seen), len(p.Measures))
		}
	}
}

// What a part's line lacks is said beside the line, and why there is none.
func TestPieceLineWarnings(t *testing.T) {
	unpitched := strings.Replace(note("C4", 8), "<pitch><step>C</step><octave>4</octave></pitch>", "<unpitched/>", 1)
	p := piece(t, []string{four + note("C4", 8) + note("E4", 8, "chord")}, []string{four + unpitched},
		[]string{four + `<sound><swing><first>2</first><second>1</second></swing></sound>` + note("C4", 8)})
	for i, want := range []string{"chords: the top note was taken", "it cannot be read as one line: no note of it has a pitch", "swing was read as even notes"} {
		if got := fmt.Sprint(p.Parts[i].LineWarnings); !strings.Contains(got, want) || (p.Parts[i].Line == nil) != (i == 1) {
			t.Errorf("part %d: %s, want %s", i+1, got, want)
		}
	}
	if said := fmt.Sprint(p.Warnings); !strings.Contains(said, "swing was read as even notes") {
		t.Error(said)
	}
}

// A sign for the measure before is played, and said.
func TestPieceMeasureRepeat(t *testing.T) {
	p := piece(t, []string{four + note("C4", 8), `<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>`})
	if got := said(p.Parts[0].Notes[1]); got != "0+8:60" || !strings.Contains(fmt.Sprint(p.Warnings), "Part 1, measure 2: a sign that repeats measures") {
		t.Errorf("%s, %v", got, p.Warnings)
	}
}
