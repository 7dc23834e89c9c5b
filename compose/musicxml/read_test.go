package musicxml

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf16"

	"onward/compose/score"
)

// xmlOf reports a document of one part whose first measure opens with the
// attributes given, after divisions of 4, and whose measures hold the texts given.
// In them "C5 4 quarter" at the start of a line stands for a note of that pitch,
// duration and type, "r 4" for a rest; XML may follow, or after <before> go ahead of
// the pitch. Other lines are XML.
func xmlOf(attributes string, measures ...string) string {
	var b strings.Builder
	b.WriteString(`<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Line</part-name></score-part></part-list><part id="P1">`)
	for i, m := range measures {
		b.WriteString(`<measure number="` + string(rune('1'+i)) + `">`)
		if i == 0 {
			b.WriteString("<attributes><divisions>4</divisions>" + attributes + "</attributes>")
		}
		for _, line := range strings.Split(m, "\n") {
			b.WriteString(noteXML(strings.TrimSpace(line)))
		}
		b.WriteString("</measure>")
	}
	b.WriteString("</part></score-partwise>")
	return b.String()
}

func noteXML(line string) string {
	if strings.HasPrefix(line, "<") || line == "" {
		return line
	}
	line, before, _ := strings.Cut(line, "<before>")
	head, after := line, ""
	if i := strings.Index(line, "<"); i >= 0 {
		head, after = line[:i], line[i:]
	}
	w := append(strings.Fields(head), "", "")
	sound := "<rest/>"
	if w[0] != "r" {
		alter := map[byte]string{'#': "<alter>1</alter>", 'b': "<alter>-1</alter>"}[w[0][1]]
		sound = "<pitch><step>" + w[0][:1] + "</step>" + alter + "<octave>" + w[0][len(w[0])-1:] + "</octave></pitch>"
	}
	if w[1] != "-" {
		sound += "<duration>" + w[1] + "</duration>"
	}
	if w[2] != "" {
		sound += "<type>" + w[2] + "</type>"
	}
	return "<note>" + before + sound + after + "</note>"
}

const fourFour = "<key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>G</sign><line>2</line></clef>"

func wordsXML(text string) string {
	return "<direction><direction-type><words>" + text + "</words></direction-type></direction>\n"
}

// others is what other programs write, and how a musician reads it.
var others = []struct {
	name, xml, want, warning string
}{
	{"types missing", xmlOf(fourFour, "C5 6\nD5 2\nE5 5\nF5 3"),
		"C5:4. D5:8 E5:4~ E5:16 F5:8. |", ""},
	{"rounded triplets", xmlOf(fourFour, "C5 1 eighth<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>\n"+
		"D5 1 eighth<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>\n"+
		"E5 2 eighth<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>\nr 12"),
		"C5:8t D5:8t E5:8t r:4 r:2 |", ""},
	{"a chord", xmlOf(fourFour, "C5 8 half\nG4 8 half<before><chord/>\nC5 8 half\nE5 8 half<before><chord/>"),
		"C5:2 E5:2 |", "chords: the top note was taken (2 times)"},
	{"two voices", xmlOf(fourFour, "C5 16 whole<voice>1</voice>\n<backup><duration>16</duration></backup>\nE4 8 half<voice>2</voice>\nF4 8 half<voice>2</voice>"),
		"C5:1 |", "several voices: the first was taken"},
	{"a voice that is silent for a measure", xmlOf(fourFour, "C5 16 whole<voice>1</voice>", "D4 16 whole<voice>2</voice>", "E5 16 whole<voice>1</voice>"),
		"C5:1 | D4:1 | E5:1 |", ""},
	{"two staves", xmlOf(fourFour+"<clef number=\"2\"><sign>F</sign><line>4</line></clef>",
		"C5 16 whole<voice>1</voice><staff>1</staff>\n<backup><duration>16</duration></backup>\nE3 16 whole<voice>5</voice><staff>2</staff>"),
		"C5:1 |", "several voices"},
	{"a duration of nothing", xmlOf(fourFour, "C5 0\nD5 16 whole"), "D5:1 |", "notes of no duration were left out"},
	{"a duration too fine", xmlOf(fourFour, "<attributes><divisions>11</divisions></attributes>\nC5 1\nD5 43", "<attributes><divisions>4</divisions></attributes>\nE5 16 whole"),
		"R | E5:1 |", "measure 1: a measure was read as a rest: it has a length that is no note value's"},
	{"elevenths that come out", xmlOf(fourFour, "<attributes><divisions>22</divisions></attributes>\n"+
		strings.Repeat("C5 4 eighth<time-modification><actual-notes>11</actual-notes><normal-notes>10</normal-notes></time-modification>\n", 11)+"r 44"), "R |", "a measure was read as a rest"},
	{"no meter", xmlOf("<key><fifths>0</fifths></key><time><senza-misura/></time><clef><sign>G</sign></clef>", "C5 16 whole"), "C5:1 |", "music without a meter"},
	{"a voice that rests", xmlOf(fourFour, "C5 16 whole<voice>1</voice>", "r 16<voice>1</voice>\n<backup><duration>16</duration></backup>\nD4 16 whole<voice>2</voice>", "E5 16 whole<voice>1</voice>"),
		"C5:1 | D4:1 | E5:1 |", "measure 2: a voice that rests gave way to another of its staff"},
	{"a chord without a first note", xmlOf(fourFour, "<forward><duration>4</duration></forward>\nC5 8 half<before><chord/>\nr 4"), "r:4 C5:2 r:4 |", ""},
	{"a chord that lasts longer", xmlOf(fourFour, "C5 12\nE5 16 whole<before><chord/>\nr 4"), "E5:2. r:4 |", "chords: the top note was taken"},
	{"a step back too far", xmlOf(fourFour, "C5 16 whole\n<backup><duration>99</duration></backup>\nE4 16 whole<voice>2</voice>"), "C5:1 |", "a step back beyond the start"},
	{"a measure too long", xmlOf(fourFour, "C5 16 whole\nD5 4 quarter", "E5 16 whole"), "C5:1 D5:4 | E5:1 |", "measure 1: a measure is longer than its meter"},
	{"a measure too short", xmlOf(fourFour, "C5 16 whole", "D5 8 half", "E5 16 whole"), "C5:1 | short D5:2 | E5:1 |", "measure 2: irregular: the measure is only 2 quarters long"},
	{"no divisions", strings.Replace(xmlOf(fourFour, "C5 24 eighth\nD5 24 eighth\nE5 48 quarter\nr 96"), "<divisions>4</divisions>", "", 1), "C5:8 D5:8 E5:4 r:2 |", "48 to a quarter, by the first note"},
	{"a repeated measure", xmlOf(fourFour, "C5 8 half\nD5 8 half",
		`<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>`+"\nr 16", "r 16",
		`<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>`+"\nE5 16 whole"),
		"C5:2 D5:2 | C5:2 D5:2 | C5:2 D5:2 | E5:1 |", "measure 2: a sign that repeats measures was read as the measures before it (2 times)"},
	{"two repeated measures", xmlOf(fourFour, "C5 16 whole", "D5 16 whole",
		`<attributes><measure-style><measure-repeat type="start">2</measure-repeat></measure-style></attributes>`, ""),
		"C5:1 | D5:1 | C5:1 | D5:1 |", "a sign that repeats measures"},
	{"many measures' rest", xmlOf(fourFour, "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>\nr 16", "r 16", "C5 16 whole"), "R | R | C5:1 |", ""},
	{"alto and tenor clefs", xmlOf(strings.Replace(fourFour, "<sign>G</sign><line>2</line>", "<sign>C</sign><line>3</line>", 1), "C4 16 whole", "<attributes><clef><sign>C</sign><line>4</line></clef></attributes>\nD4 16 whole"),
		"C4:1 | bass D4:1 |", "clef C3 was read as the treble clef"},
	{"a clef an octave down", xmlOf(strings.Replace(fourFour, "<line>2</line>", "<line>2</line><clef-octave-change>-1</clef-octave-change>", 1), "C4 16 whole"), "C4:1 |", "clef G2 was read as the treble clef"},
	{"tablature", xmlOf(strings.Replace(fourFour, "<sign>G</sign><line>2</line>", "<sign>TAB</sign>", 1), "C4 16 whole<notations><technical><string>2</string><fret>1</fret></technical></notations>"), "C4:1 |", "clef TAB was read as the treble clef"},
	{"a key of its own kind", xmlOf(strings.Replace(fourFour, "<fifths>0</fifths>", "<key-step>B</key-step><key-alter>-1</key-alter>", 1), "C4 16 whole"), "C4:1 |", "a key signature of its own kind"},
	{"a transposition that changes", xmlOf("<transpose><chromatic>-2</chromatic></transpose>"+fourFour, "C5 16 whole", "<attributes><transpose><chromatic>-9</chromatic></transpose></attributes>\nD5 16 whole"),
		"sounds -1 -2; key C major; 4/4 C5:1 | D5:1 |", "measure 2: a change of transposition inside the part was not followed"},
	{"a transposition in octaves", xmlOf("<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change></transpose>"+fourFour, "C5 16 whole"), "sounds -8 -14; key C major; 4/4 C5:1 |", ""},
	{"a transposition that does not fit", xmlOf("<transpose><diatonic>5</diatonic><chromatic>-3.0</chromatic></transpose>"+fourFour, "C5 16 whole"), "sounds -2 -3; key C major; 4/4 C5:1 |", "steps that do not fit"},
	{"a tempo that is not printed", xmlOf(fourFour, `<sound tempo="96.4"/>`+"\nC5 8 half\n"+`<direction><direction-type><words>rit.</words></direction-type><sound tempo="80"/></direction>`+"\nD5 8 half"),
		"tempo 4=96; C5:2 D5:2 |", "a tempo that is not printed was taken as a mark"},
	{"a printed tempo holds", xmlOf(fourFour, `<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>60</per-minute></metronome></direction-type><sound tempo="121"/></direction>`+"\nC5 16 whole"),
		"tempo 2=60; C5:1 |", ""},
	{"stress and caesura", xmlOf(fourFour, "C5 16 whole<notations><articulations><stress/><caesura/></articulations></notations>"), "C5:1>, |", ""},
	{"swing", xmlOf(fourFour, `<sound><swing><first>2</first><second>1</second></swing></sound>`+"\nC5 8 half\nD5 8 half"), "C5:2 D5:2 |", "swing was read as even notes"},
	{"a jump", xmlOf(fourFour, "C5 16 whole\n"+`<direction><direction-type><words>D.C. al Fine</words></direction-type></direction>`), "words D.C. al Fine; C5:1 |", "jumps (D.C., D.S., Coda, Fine) are not in the line"},
	{"a jump and an end inside their measures", xmlOf(fourFour, "C5 8 half\n"+wordsXML("Fine.")+"D5 8 half", "E5 8 half\n"+wordsXML("D.S. al Coda")+"F5 8 half", "G5 16 whole"),
		"words Fine.; C5:2 D5:2 | words D.S. al Coda; E5:2 F5:2 | G5:1 |", "jumps (D.C., D.S., Coda, Fine) are not in the line"},
	{"words at the end of a measure", xmlOf(fourFour, "C5 16 whole\n"+wordsXML("dolce")+wordsXML("Fine"), "D5 16 whole\n"+wordsXML("Coda"), "E5 16 whole"),
		"words Fine; C5:1 | words dolce; D5:1 | words Coda; E5:1 |", "jumps"},
	{"triplets in triplets", xmlOf(fourFour, strings.Repeat("C5 - eighth<time-modification><actual-notes>9</actual-notes><normal-notes>4</normal-notes></time-modification>\n", 9)+"r 8"),
		strings.Repeat("C5:8(9:4) ", 9) + "r:2 |", ""},
	{"three endings", xmlOf(fourFour, "C5 16 whole", `<barline location="left"><ending number="1" type="start"/></barline>`+"\nD5 16 whole\n"+`<barline><ending number="1" type="stop"/><repeat direction="backward"/></barline>`,
		`<barline location="left"><ending number="2" type="start"/></barline>`+"\nE5 16 whole\n"+`<barline><ending number="2" type="stop"/><repeat direction="backward"/></barline>`,
		`<barline location="left"><ending number="3" type="start"/></barline>`+"\nF5 16 whole\n"+`<barline><ending number="3" type="stop"/></barline>`),
		"C5:1 | [1 D5:1 ] :| [2 E5:1 ] :| [2 F5:1 ] |", `ending "3" was read as ending 2`},
	{"endings without numbers", xmlOf(fourFour, `<barline location="left"><ending number="" type="start"/></barline>`+"\nD5 16 whole\n"+`<barline><ending number="" type="stop"/><repeat direction="backward"/></barline>`,
		`<barline location="left"><ending number="" type="start"/></barline>`+"\nE5 16 whole\n"+`<barline><ending number="" type="stop"/></barline>`),
		"[1 D5:1 ] :| [2 E5:1 ] |", ""},
	{"a gap", xmlOf(fourFour, "<forward><duration>4</duration></forward>\nC5 4 quarter\n<forward><duration>8</duration></forward>"),
		"r:4 C5:4 r:2 |", ""},
	{"a pickup", xmlOf(fourFour, "G4 4 quarter", "C5 16 whole"), "G4:4 | C5:1 |", ""},
	{"grace notes", xmlOf(fourFour, "D5 - <before><grace/>\nE5 - <before><grace/>\nC5 16 whole"), "{D5,E5}C5:1 |", ""},
	{"grace notes after the last", xmlOf(fourFour, "C5 16 whole\nD5 - <before><grace/>"), "C5:1 |", "after the last note"},
	{"a tie by notation alone", xmlOf(fourFour, `C5 16 whole<notations><tied type="start"/></notations>`, `C5 16 whole<notations><tied type="stop"/></notations>`),
		"C5:1~ | C5:1 |", ""},
	{"a tie to another pitch", xmlOf(fourFour, `C5 16 whole<notations><tied type="start"/></notations>`, "D5 16 whole"),
		"C5:1 | D5:1 |", "a tie to another pitch"},
	{"a slur in a slur", xmlOf(fourFour, `C5 8 half<notations><slur type="start" number="1"/><slur type="start" number="2"/></notations>`+"\n"+
		`D5 8 half<notations><slur type="stop" number="2"/></notations>`, `E5 16 whole<notations><slur type="stop" number="1"/></notations>`),
		"C5:2( D5:2 | E5:1) |", "a slur inside another"},
	{"a slur without an end", xmlOf(fourFour, `C5 16 whole<notations><slur type="start" number="1"/></notations>`), "C5:1 |", "a slur that does not end"},
	{"a whole rest in 3/4", xmlOf("<key><fifths>0</fifths></key><time><beats>3</beats><beat-type>4</beat-type></time><clef><sign>G</sign></clef>", "r 12 whole"),
		"3/4 R |", ""},
	{"an empty measure", xmlOf(fourFour, "", "C5 16 whole"), "R | C5:1 |", ""},
	{"a meter in parts", xmlOf(`<key><fifths>0</fifths></key><time><beats>3+2</beats><beat-type>8</beat-type></time><clef><sign>G</sign></clef>`, "C5 10"),
		"5/8 C5:4.~ C5:4 |", "a time signature of several parts was read as 5/8"},
	{"a cue", xmlOf(fourFour, "C5 8 half<before><cue/>\nD5 8 half"), "r:2 D5:2 |", "cue notes"},
	{"no signs", xmlOf("", "C5 16 whole"), "C5:1 |", "no meter at the start: 4/4 was taken"},
	{"a key change in a measure", xmlOf(fourFour, "C5 8 half\n<attributes><key><fifths>-1</fifths></key></attributes>\nD5 8 half", "E5 16 whole"),
		"C5:2 D5:2 | key F major; E5:1 |", "a key that changes inside a measure"},
	{"a key change at the end of a measure", xmlOf(fourFour, "C5 16 whole\n<attributes><key><fifths>-1</fifths></key></attributes>", "E5 16 whole"),
		"C5:1 | key F major; E5:1 |", ""},
	{"words and a number", xmlOf(fourFour, `<direction><direction-type><words>Andantino ( </words></direction-type><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>90-94</per-minute></metronome></direction-type></direction>`+"\nC5 16 whole"),
		"tempo 4=90 Andantino; C5:1 |", ""},
	{"rare dynamics", xmlOf(fourFour, "<direction><direction-type><dynamics><fff/></dynamics></direction-type></direction>\nC5 16 whole"),
		"ff C5:1 |", "dynamic fff was read as ff"},
	{"a hairpin without an end", xmlOf(fourFour, `<direction><direction-type><wedge type="crescendo"/></direction-type></direction>`+"\nC5 16 whole"),
		"C5:1 |", "a hairpin that does not pair"},
	{"a barline at the left", xmlOf(fourFour, "C5 16 whole", `<barline location="left"><bar-style>light-light</bar-style></barline>`+"\nD5 16 whole"),
		"C5:1 || D5:1 |", ""},
	{"ending 1, 2", xmlOf(fourFour, `<barline location="left"><ending number="1, 2" type="start"/></barline>`+"\nC5 16 whole\n"+
		`<barline><ending number="1, 2" type="stop"/><repeat direction="backward"/></barline>`, "D5 16 whole"),
		"[1 C5:1 ] :| D5:1 |", `ending "1, 2" was read as ending 1`},
	{"no numbers", strings.ReplaceAll(xmlOf(fourFour, "C5 16 whole", "D5 16 whole"), `number="2"`, `number="X1"`), "C5:1 | pickup D5:1 |", ""},
}

// What others write is read as a musician would read it.
func TestReadOthers(t *testing.T) {
	for _, c := range others {
		s, warnings, err := Read(strings.NewReader(c.xml))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		s.Parts[0].Name = ""
		got := strings.TrimPrefix(score.Text(s.Parts[0]), "key C major; ")
		got = strings.TrimPrefix(strings.Replace(got, "treble ", "", 1), "4/4 ")
		if got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
		var said []string
		for _, w := range warnings {
			said = append(said, w.String())
		}
		if all := strings.Join(said, "\n"); !strings.Contains(all, c.warning) || (c.warning == "" && all != "") {
			t.Errorf("%s: warnings %q, want one with %q", c.name, all, c.warning)
		}
	}
}

// What cannot be read is refused with the part, the measure and the reason.
func TestReadRefuses(t *testing.T) {
	long := "<score-partwise>" + strings.Repeat("<a>", maxDepth) + strings.Repeat("</a>", maxDepth) + "</score-partwise>"
	for _, c := range []struct{ name, xml, want string }{
		{"empty", "", "not well-formed"},
		{"another format", "<song/>", "its root is <song>"},
		{"timewise without parts", "<score-timewise/>", "no part"},
		{"broken", "<score-partwise><part>", "line 1: not well-formed"},
		{"no parts", "<score-partwise/>", "no part"},
		{"an entity of its own", `<!DOCTYPE x [<!ENTITY a "b">]><score-partwise>&a;</score-partwise>`, "entities of its own"},
		{"an unknown entity", `<score-partwise>&a;</score-partwise>`, "not well-formed"},
		{"long names", "<score-partwise><" + strings.Repeat("x", 9000) + "></y>", "not well-formed"},
		{"long figures", xmlOf(fourFour, "<forward><duration>"+strings.Repeat("9", 3000)+"</duration></forward>"), "is not a number of divisions"},
		{"deep", long, "inside each other"},
		{"an encoding", `<?xml version="1.0" encoding="EBCDIC"?><score-partwise/>`, "EBCDIC"},
		{"a step", xmlOf(fourFour, "C5 4 quarter", "<note><pitch><step>H</step><octave>4</octave></pitch><duration>4</duration></note>"), `measure 2: step "H" is not A to G`},
		{"divisions", xmlOf("<divisions>0</divisions>", "C5 1"), `part Line: measure 1: divisions "0" is not a whole number from 1 to 1000000 (line 1)`},
		{"no duration", xmlOf(fourFour, "C5 -"), "neither duration nor type"},
		{"a line of the file", strings.Replace(xmlOf(fourFour, "C5 4 quarter", "C5 -"), "<note>", "\n\n<note>", 1), "a note has neither duration nor type (line 3)"},
		{"endless", xmlOf(fourFour, "C5 999999"), "longer than 64 whole notes"},
		{"percussion", xmlOf(fourFour, "<note><unpitched/><duration>4</duration></note>"), "percussion"},
	} {
		_, _, err := Read(strings.NewReader(c.xml))
		if err == nil || !strings.Contains(err.Error(), c.want) || len(err.Error()) > 1000 {
			t.Errorf("%s: %.1500v, want an error with %q", c.name, err, c.want)
		}
	}
}

// A text is read up to its limit and not a byte further.
func TestReadLimit(t *testing.T) {
	if text, err := readAll(strings.NewReader("12345"), 5); err != nil || string(text) != "12345" {
		t.Errorf("%q, %v", text, err)
	}
	if _, err := readAll(strings.NewReader("123456"), 5); err == nil {
		t.Error("6 bytes passed a limit of 5")
	}
}

// A part that cannot be read does not keep the others from being read.
func TestReadLeavesOutWhatItCannotRead(t *testing.T) {
	good := xmlOf(fourFour, "C5 16 whole")
	two := strings.Replace(good, "</part></score-partwise>",
		`</part><part id="P2"><measure number="1"><note><unpitched/><duration>4</duration></note></measure></part></score-partwise>`, 1)
	s, warnings, err := Read(strings.NewReader(two))
	if err != nil || len(s.Parts) != 1 || len(warnings) != 1 || !strings.Contains(warnings[0].String(), "P2: the part was left out") {
		t.Errorf("%v, %v, %v", s, warnings, err)
	}
}

// UTF-16 in both orders, with a mark and without, and Latin-1 read as UTF-8 does.
func TestReadEncodings(t *testing.T) {
	text := strings.Replace(string(written(t, marchPage())), "Page of Signs", "Fête", 1)
	utf16Text := strings.Replace(text, `encoding="UTF-8"`, `encoding="UTF-16"`, 1)
	var little, big bytes.Buffer
	for _, u := range utf16.Encode([]rune(utf16Text)) {
		_ = binary.Write(&little, binary.LittleEndian, u)
		_ = binary.Write(&big, binary.BigEndian, u)
	}
	latin := strings.Replace(text, `encoding="UTF-8"`, `encoding="ISO-8859-1"`, 1)
	for name, data := range map[string]string{
		"UTF-8":                          text,
		"UTF-8 with a mark":              "\xef\xbb\xbf" + text,
		"UTF-16, little end first":       "\xff\xfe" + little.String(),
		"UTF-16, big end first":          "\xfe\xff" + big.String(),
		"UTF-16, little, without a mark": little.String(),
		"UTF-16, big, without a mark":    big.String(),
		"Latin-1":                        strings.Replace(latin, "Fête", "F\xeate", 1),
	} {
		s, _, err := Read(strings.NewReader(data))
		if err != nil || s.Title != "Fête" || len(s.Parts[0].Measures) != len(marchPage().Parts[0].Measures) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// compressed packs members into a compressed file.
func compressed(t *testing.T, members map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range members {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const container = `<container><rootfiles><rootfile full-path="x.pdf" media-type="application/pdf"/><rootfile full-path="a/score.xml"/></rootfiles></container>`

// A compressed file is read through its table of contents, whatever its name.
func TestReadCompressed(t *testing.T) {
	want := marchPage()
	file := compressed(t, map[string]string{"META-INF/container.xml": container, "a/score.xml": string(written(t, want))})
	s, _, err := ReadFile("page.mxl", bytes.NewReader(file), int64(len(file)))
	if err != nil || textOf(s) != textOf(want) {
		t.Errorf("%v", err)
	}
}

// Damaged, empty and swollen compressed files are refused by name.
func TestReadCompressedRefuses(t *testing.T) {
	for _, c := range []struct {
		members map[string]string
		want    string
	}{
		{map[string]string{"score.pdf": ""}, "page.mxl: the compressed file holds no META-INF/container.xml"},
		{map[string]string{"a.xml": "", "b.musicxml": ""}, "may be the score"},
		{map[string]string{"META-INF/container.xml": container}, "holds no a/score.xml"},
		{map[string]string{"META-INF/container.xml": "<container/>"}, "names no score"},
	} {
		file := compressed(t, c.members)
		_, _, err := ReadFile("page.mxl", bytes.NewReader(file), int64(len(file)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want an error with %q", err, c.want)
		}
	}
	short := compressed(t, map[string]string{"META-INF/container.xml": container})[:40]
	if _, _, err := ReadFile("page.mxl", bytes.NewReader(short), int64(len(short))); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("%v, want an error about damage", err)
	}
}

// A page with a few wrong figures in it is read or refused; what is read can be written.
func TestReadDamaged(t *testing.T) {
	page := written(t, marchPage())
	random := rand.New(rand.NewPCG(1, 2))
	read := 0
	for range 60 {
		data := bytes.Clone(page)
		for range 1 + random.IntN(4) {
			k := random.IntN(len(data))
			for data[k] < '0' || data[k] > '9' {
				k = (k + 1) % len(data)
			}
			data[k] = byte('0' + random.IntN(10))
		}
		if proveRead(t, data) {
			read++
		}
	}
	if read == 0 || read == 60 {
		t.Errorf("%d of 60 were read; the damage should stop some and not all", read)
	}
}

// Voices have one order, whatever they are called: else the line would be another each time.
func TestVoicesInOrder(t *testing.T) {
	names := []string{"1", "02", "2", "10", "", "1a", "b"}
	for i, a := range names {
		for k, b := range names {
			if got := byNumber(a, b); (got < 0) != (i < k) || (got == 0) != (i == k) {
				t.Errorf("%q and %q: %d", a, b, got)
			}
		}
	}
}
