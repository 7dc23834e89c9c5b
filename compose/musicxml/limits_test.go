package musicxml

import (
	"bytes"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
)

// partwise wraps the inside of one part.
func partwise(inside string) string {
	return `<score-partwise><part-list/><part id="P1">` + inside + `</part></score-partwise>`
}

// Each limit refuses what passes it, both ways of reading, with words that say which.
func TestLimits(t *testing.T) {
	rests := strings.Repeat("<note><grace/><rest/></note>", maxNotes)
	for _, c := range []struct{ name, text, want string }{
		{"depth", "<score-partwise>" + strings.Repeat("<a>", maxDepth), "line 1: more than 64 elements inside each other"},
		{"elements", "<score-partwise>" + strings.Repeat("<a/>", maxElements) + "</score-partwise>", "more than 3000000 elements"},
		{"attributes", "<score-partwise " + strings.Repeat(`a="" `, maxAttrs+1) + "/>", "<score-partwise> has more than 100 attributes"},
		{"a tag", "<score-partwise " + strings.Repeat(`a="" `, maxToken), "a tag or text of more than 1048576 bytes"},
		{"a text", "<score-partwise>" + strings.Repeat("a", maxToken+1), "a tag or text of more than 1048576 bytes"},
		{"a text in Latin-1", `<?xml version="1.0" encoding="ISO-8859-1"?><score-partwise>` + strings.Repeat("\xe4", maxToken+1), "a tag or text of more than 1048576 bytes"},
		{"a comment", "<score-partwise><!--" + strings.Repeat("a", maxToken), "a tag or text of more than 1048576 bytes"},
		{"an entity", `<!DOCTYPE x [<!ENTITY a "b">]><score-partwise>&a;</score-partwise>`, "entities of its own"},
		{"an entity of a file", `<!DOCTYPE x [<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;]><score-partwise/>`, "entities of its own"},
		{"an unknown entity", `<!DOCTYPE score-partwise SYSTEM "http://localhost/x.dtd"><score-partwise>&a;</score-partwise>`, "not well-formed"},
		{"parts", "<score-partwise>" + strings.Repeat("<part/>", maxParts+1) + "</score-partwise>", "more than 400 parts"},
		{"timewise parts", "<score-timewise><measure>" + parts(maxParts+1) + "</measure></score-timewise>", "more than 400 parts"},
		{"measures", partwise(strings.Repeat("<measure/>", maxMeasures+1)), "part P1: more than 10000 measures"},
		{"measures in all", "<score-partwise>" + strings.Repeat("<part>"+strings.Repeat("<measure/>", 1+maxAll/maxParts)+"</part>", maxParts) + "</score-partwise>", "more than 250000 measures in all parts"},
		{"notes", partwise("<measure>" + rests + "<note><grace/><rest/></note></measure>"), "more than 200000 notes in a part (line 1)"},
		{"divisions", partwise("<measure><attributes><divisions>1000001</divisions></attributes></measure>"), `divisions "1000001" is not a whole number from 1 to 1000000`},
		{"a transposition", partwise("<measure><attributes><transpose><chromatic>-1</chromatic><octave-change>-4</octave-change></transpose></attributes></measure>"), "transposition by -49 semitones, more than 48"},
		{"a duration", partwise("<measure><forward><duration>1234567890</duration></forward></measure>"), `duration "1234567890" is not a number of divisions`},
		{"a chord's duration", partwise("<measure><note><chord/><pitch><step>C</step><octave>4</octave></pitch><duration>999999999</duration></note></measure>"), "a note is longer than 64 whole notes"},
		{"a measure", partwise("<measure><forward><duration>257</duration></forward></measure>"), "the measure is longer than 64 whole notes"},
	} {
		_, _, err := Read(strings.NewReader(c.text))
		errs := []error{err}
		if len(c.text) < 4<<20 || c.name == "notes" {
			_, err := ReadPiece(strings.NewReader(c.text))
			errs = append(errs, err)
		}
		for _, err := range errs {
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %.300v, want an error with %q", c.name, err, c.want)
			}
		}
	}
}

func parts(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `<part id="%d"/>`, i)
	}
	return b.String()
}

// What stands at the limit is read.
func TestLimitsReached(t *testing.T) {
	for name, text := range map[string]string{
		"depth":      "<score-partwise>" + strings.Repeat("<a>", maxDepth-1) + strings.Repeat("</a>", maxDepth-1) + xmlOf(fourFour, "C5 16")[len(`<score-partwise version="4.0">`):],
		"measures":   partwise(strings.Repeat("<measure/>", maxMeasures)),
		"parts":      "<score-partwise>" + strings.Repeat("<part><measure/></part>", maxParts) + "</score-partwise>",
		"divisions":  partwise("<measure><attributes><divisions>1000000</divisions></attributes><note><pitch><step>C</step><octave>4</octave></pitch><duration>4000000</duration></note></measure>"),
		"a measure":  partwise("<measure><forward><duration>256</duration></forward></measure>"),
		"attributes": strings.Replace(partwise("<measure/>"), "<measure", "<measure "+strings.Repeat(`a="" `, maxAttrs), 1),
	} {
		if _, _, err := Read(strings.NewReader(text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := ReadPiece(strings.NewReader(text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A text and an attribute that are too long are cut, and a warning says so.
func TestLimitOfText(t *testing.T) {
	text := strings.Replace(xmlOf(fourFour, "C5 16"), "<part-name>Line", "<part-name>"+strings.Repeat("ä", maxString), 1)
	text = strings.Replace(text, `number="1"`, `number="`+strings.Repeat("1", maxString+1)+`"`, 1)
	s, warnings, err := Read(strings.NewReader(text))
	if err != nil || len(s.Parts[0].Name) != maxString || !strings.Contains(fmt.Sprint(warnings), "a text of more than 4096 bytes was cut (2 times)") {
		t.Errorf("%v, %v", warnings, err)
	}
}

// A part gives at most so many kinds of warning.
func TestLimitOfWarnings(t *testing.T) {
	var b strings.Builder
	for i := range 3 * maxWarnings {
		fmt.Fprintf(&b, "<direction><direction-type><x%d/></direction-type></direction>", i)
	}
	_, warnings, err := Read(strings.NewReader(xmlOf(fourFour, "C5 16\n"+b.String())))
	if last := len(warnings) - 1; err != nil || last != maxWarnings || warnings[last].Times != 2*maxWarnings {
		t.Errorf("%d warnings, the last %v; %v", len(warnings), warnings[last], err)
	}
}

// The other limits of numbers pass over what is beyond them.
func TestLimitsPassedOver(t *testing.T) {
	for _, c := range []struct{ name, inside, want string }{
		{"a tuplet", "C5 4 quarter<time-modification><actual-notes>65</actual-notes><normal-notes>64</normal-notes></time-modification>\nr 12", "C5:4 r:4 r:2 |"},
		{"an ending", `<barline location="left"><ending number="100" type="start"/></barline>` + "\nC5 16", "[1 C5:1 ] |"},
	} {
		s, _, err := Read(strings.NewReader(xmlOf(fourFour, c.inside)))
		if err != nil || !strings.HasSuffix(textOf(s), c.want) {
			t.Errorf("%s: %v, %v, want %s", c.name, s, err, c.want)
		}
	}
	order, err := unfold(signsOf(t, ".  :|9999"))
	if err != nil || len(order) != 2*maxEnding {
		t.Errorf("%d measures are played, want %d; %v", len(order), 2*maxEnding, err)
	}
	long := strings.Repeat(". ", maxPlayed/maxEnding) + " :|9999"
	if _, err := unfold(signsOf(t, long)); err == nil || !strings.Contains(err.Error(), "longer than 20000 measures") {
		t.Errorf("%v", err)
	}
	var list strings.Builder
	for i := range maxPlayers + 1 {
		fmt.Fprintf(&list, `<score-instrument id="%d"><instrument-name>flute</instrument-name></score-instrument>`, i)
	}
	text := strings.Replace(xmlOf(fourFour, "C5 16"), "</part-name>", "</part-name>"+list.String(), 1)
	if p, err := ReadPiece(strings.NewReader(text)); err != nil || len(p.Parts[0].Instruments) != 1 {
		t.Errorf("%v, %v", p, err)
	}
}

// endless is a file of any length.
type endless struct{}

func (endless) Read(b []byte) (int, error)                { clear(b); return len(b), nil }
func (endless) ReadAt(b []byte, _ int64) (n int, e error) { clear(b); return len(b), nil }

// packedZeros is a file whose bytes are those of a compressed file and then zeros.
type packedZeros struct{ endless }

func (packedZeros) ReadAt(b []byte, at int64) (int, error) {
	clear(b)
	if at == 0 {
		copy(b, "PK\x03\x04")
	}
	return len(b), nil
}

// Files that are too long are refused, and a compressed one before it is looked at.
func TestLimitsOfFiles(t *testing.T) {
	if _, _, err := Read(io.LimitReader(endless{}, maxSize+1)); err == nil || !strings.Contains(err.Error(), "it is longer than 64 MB") {
		t.Errorf("%v", err)
	}
	if _, _, err := ReadFile("x", endless{}, maxSize+1); err == nil || !strings.Contains(err.Error(), "x: it is longer than 64 MB") {
		t.Errorf("%v", err)
	}
	if _, err := ReadPieceFile("x.mxl", packedZeros{}, maxPacked+1); err == nil || !strings.Contains(err.Error(), "x.mxl: the compressed file is longer than 32 MB") {
		t.Errorf("%v", err)
	}
}

// Compressed files of too many files, and those that swell, are refused.
func TestLimitsOfCompressed(t *testing.T) {
	var many []string
	for i := range maxEntries + 1 {
		many = append(many, fmt.Sprint(i), "")
	}
	noise := strings.Repeat(" ", maxContainer+1)
	bomb := compressed(t, map[string]string{"a.xml": strings.Repeat(" ", 8<<20)})
	for _, c := range []struct {
		file []byte
		want string
	}{
		{loose(t, many...), "holds more than 1000 files"},
		{bomb, "a.xml in the compressed file: it is more than 200 times as long as its compressed form"},
		{loose(t, "META-INF/container.xml", noise), "container.xml in the compressed file: it is longer than 1 MB"},
		{loose(t, "META-INF/container.xml", "<container>"), "META-INF/container.xml: not well-formed XML"},
		{loose(t, "META-INF/container.xml", `<!DOCTYPE a [<!ENTITY b "c">]><container>&b;</container>`), "META-INF/container.xml: not well-formed XML"},
		{encrypted(t), "a.xml in the compressed file"},
	} {
		_, _, err := ReadFile("page.mxl", bytes.NewReader(c.file), int64(len(c.file)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want an error with %q", err, c.want)
		}
	}
}

// encrypted is a compressed file whose one member is packed in a way that is not known.
func encrypted(t *testing.T) []byte {
	t.Helper()
	file := loose(t, "a.xml", "<score-partwise/>")
	at := bytes.Index(file, []byte("PK\x01\x02"))
	file[at+10] = 99 // the method
	return file
}

// A compressed file without table of contents, with other files beside the score, or with
// paths in another form is read.
func TestReadCompressedForms(t *testing.T) {
	text := xmlOf(fourFour, "C5 16 whole")
	for name, file := range map[string][]byte{
		"no table":       loose(t, "mimetype", "application/vnd.recordare.musicxml", "score.musicxml", text, "cover.png", "x"),
		"first rootfile": loose(t, "META-INF/container.xml", `<container><rootfiles><rootfile full-path="a.xml"/><rootfile full-path="b.xml"/></rootfiles></container>`, "b.xml", "<b/>", "a.xml", text),
		"path":           loose(t, "META-INF/container.xml", `<container><rootfiles><rootfile full-path="./a\b.xml"/></rootfiles></container>`, "a/b.xml", text),
	} {
		s, _, err := ReadFile("page.mxl", bytes.NewReader(file), int64(len(file)))
		if err != nil || !strings.HasSuffix(textOf(s), "C5:1 |") {
			t.Errorf("%s: %v", name, err)
		}
	}
	empty := loose(t)
	_, _, err := ReadFile("page.mxl", bytes.NewReader(empty), int64(len(empty)))
	if err == nil || !strings.Contains(err.Error(), "holds no META-INF/container.xml") {
		t.Errorf("%v", err)
	}
}

// A tag without end is stopped before it fills the memory: what is allocated goes by the
// limit of a tag, not by the file.
func TestMemoryIsBounded(t *testing.T) {
	text := "<score-partwise " + strings.Repeat(`a="" `, 4<<20)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if _, _, err := read([]byte(text)); err == nil {
		t.Fatal("a tag of 20 MB was read")
	}
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > 128*maxToken {
		t.Errorf("%d bytes were allocated for a tag that is stopped at %d", took, maxToken)
	}
}
