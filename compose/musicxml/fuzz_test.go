package musicxml

import (
	"archive/zip"
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"onward/compose/score"
)

// never are the checks that no score from Read fails, however its file is.
var never = []string{"opening signs", "values", "order", "filled", "alterations", "accidentals", "ties", "dynamics", "hairpins", "tempo"}

// proveRead proves of data that Read and ReadPiece refuse it or read it soundly, and
// reports whether Read did.
func proveRead(t *testing.T, data []byte) bool {
	t.Helper()
	s, warnings, err := Read(bytes.NewReader(data))
	if piece, err := ReadPiece(bytes.NewReader(data)); err == nil {
		provePiece(t, piece)
	}
	if err != nil {
		if len(err.Error()) > 1000 {
			t.Fatalf("an error of %d bytes", len(err.Error()))
		}
		return false
	}
	proveScore(t, s, warnings)
	if again, said, err := Read(bytes.NewReader(data)); err != nil || !reflect.DeepEqual(again, s) || !reflect.DeepEqual(said, warnings) {
		t.Fatalf("read again it differs: %v", err)
	}
	return true
}

// proveScore proves that what a copyist would not sign is called irregular, and that Write
// can write the score and Read reads it again as the same.
func proveScore(t *testing.T, s *score.Score, warnings []Warning) {
	t.Helper()
	for _, f := range score.Check(s) {
		if len(f.Offenders) == 0 || slices.Contains(habits, f.Check) {
			continue
		}
		if slices.Contains(never, f.Check) {
			t.Fatalf("%s: %v", f.Check, f.Offenders[0])
		}
		if !slices.ContainsFunc(warnings, func(w Warning) bool { return strings.HasPrefix(w.Text, "irregular: ") }) {
			t.Fatalf("%s is not said: %v", f.Check, f.Offenders[0])
		}
	}
	if most := (maxWarnings+len(score.Check(s))+1)*(len(s.Parts)+1) + maxParts; len(warnings) > most {
		t.Fatalf("%d warnings", len(warnings))
	}
	var first, second bytes.Buffer
	if err := Write(&first, s); err != nil {
		t.Fatal(err)
	}
	again, _, err := Read(bytes.NewReader(first.Bytes()))
	if err != nil {
		t.Fatalf("our own file is refused: %v\n%s", err, first.Bytes())
	}
	if err := Write(&second, again); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Fatalf("written again it differs: %s", firstDifference(second.Bytes(), first.Bytes()))
	}
}

func provePiece(t *testing.T, p *Piece) {
	t.Helper()
	if len(p.Parts) == 0 || len(p.Measures) == 0 || len(p.Order) == 0 || len(p.Order) > maxPlayed {
		t.Fatalf("%d parts, %d measures, %d played", len(p.Parts), len(p.Measures), len(p.Order))
	}
	for i := range p.Parts {
		part := &p.Parts[i]
		if part.Line != nil && keepsNotes(part.LineWarnings) {
			proveLine(t, part)
		}
		for k, notes := range part.Notes {
			for _, n := range notes {
				if n.Key > 127 || n.At < 0 || n.Length < 0 || n.Length > longestMeasure || n.Instrument >= len(part.Instruments) {
					t.Fatalf("part %d, measure %d: %+v", i, k, n)
				}
			}
		}
		for k, key := range part.Keys {
			if key.Fifths < -7 || key.Fifths > 7 {
				t.Fatalf("part %d, measure %d: %d fifths", i, k, key.Fifths)
			}
		}
	}
	for i, m := range p.Measures {
		if m.Length <= 0 || m.Length > longestMeasure || m.Meter.Beats < 1 || m.Meter.Unit < 1 || m.Meter.Unit > 32 {
			t.Fatalf("measure %d: %v, %v", i, m.Length, m.Meter)
		}
		for k, tempo := range m.Tempos {
			if tempo.MicrosPerQuarter < 1 || tempo.At < 0 || k > 0 && tempo.At <= m.Tempos[k-1].At {
				t.Fatalf("measure %d: %v", i, m.Tempos)
			}
		}
	}
	for _, o := range p.Order {
		if o.Index < 0 || o.Index >= len(p.Measures) || o.Pass < 1 {
			t.Fatalf("order %v", p.Order)
		}
	}
}

// keepsNotes reports whether no warning says that a line has other notes than sound.
func keepsNotes(warnings []Warning) bool {
	return !slices.ContainsFunc(warnings, func(w Warning) bool {
		return slices.ContainsFunc([]string{"voice", "chord", "rest", "no duration", "cut", "pitch", "tie", "transposition"},
			func(word string) bool { return strings.Contains(w.Text, word) })
	})
}

// proveLine proves that a line has the notes that sound in its part: when they begin, and
// their keys.
func proveLine(t *testing.T, p *PiecePart) (compared int) {
	t.Helper()
	tied := -1 // the key of the sounding note that is tied on
	for i, m := range p.Line.Measures {
		var line, sounding []string
		for _, n := range m.Notes {
			if !n.Rest && !n.TieStop {
				line = append(line, fmt.Sprint(n.At, " ", n.Pitch.Transpose(p.Line.Sounds).MIDI()))
			}
		}
		for _, n := range p.Notes[i] {
			if n.Grace || p.Instruments[n.Instrument].Percussion {
				continue
			}
			if !n.TieStop && tied != int(n.Key) {
				sounding = append(sounding, fmt.Sprint(n.At, " ", n.Key))
			}
			if tied = -1; n.TieStart {
				tied = int(n.Key)
			}
		}
		if !slices.Equal(line, sounding) {
			t.Fatalf("measure %d: the line has %v; %v sound", i, line, sounding)
		}
		compared += len(line)
	}
	return compared
}

// plainSeeds are documents of all kinds that the tests have.
func plainSeeds(f *testing.F) [][]byte {
	var page bytes.Buffer
	if err := Write(&page, marchPage()); err != nil {
		f.Fatal(err)
	}
	var wide []byte
	seeds := [][]byte{page.Bytes(), []byte(timewiseText)}
	for _, c := range others {
		seeds = append(seeds, []byte(c.xml))
	}
	for _, r := range timewiseText { // UTF-16, and Latin-1
		wide = append(wide, byte(r), 0)
	}
	seeds = append(seeds, wide, []byte(`<?xml version="1.0" encoding="ISO-8859-1"?>`+strings.Replace(timewiseText, "Turned", "T\xfcrned", 1)))
	for _, text := range []string{
		pieceText([]string{four + note("C4", 8, `<tie type="start"/>`) + `<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>`}),
		pieceText([]string{four + note("D4", 0, "grace") + `<direction><direction-type><words>D.C. al Coda</words></direction-type><sound tempo="60"/></direction>`}, []string{four + note("C4", 8)}),
	} {
		seeds = append(seeds, []byte(text))
	}
	return seeds
}

// Whatever Read takes is a score that Write can write and Read reads again as the same.
func FuzzRead(f *testing.F) {
	for _, seed := range plainSeeds(f) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) { proveRead(t, data) })
}

func FuzzReadPiece(f *testing.F) {
	for _, seed := range plainSeeds(f) {
		f.Add(string(seed))
	}
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := ReadPiece(strings.NewReader(text)); err == nil {
			provePiece(t, p)
		}
	})
}

// words of music: what FuzzReadElements puts together.
var words = []string{
	"</measure><measure>", "</measure><measure number=\"3\" implicit=\"yes\">", "</part><part id=\"P2\"><measure number=\"1\">",
	note("C4", 1), note("C4", 2), note("E4", 3), note("G4", 4), note("Bb4", 8), note("F#5", 7), note("A4", 0), note("A4", 0, "<type>quarter</type>"),
	note("D4", 2, "v2"), note("D4", 2, "v1a"), note("F4", 2, "v02"), note("A4", 2, "v10"), note("E3", 4, "v2", "<staff>2</staff>"), note("C4", 4, "chord"), note("G5", 2, "chord"), note("D5", 0, "grace"), note("E5", 0, "grace", "chord"),
	note("C4", 2, "cue"), `<note><rest/><duration>2</duration></note>`, `<note><rest measure="yes"/><duration>8</duration></note>`, `<note><unpitched/><duration>2</duration></note>`,
	note("C4", 1, `<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notations><tuplet type="start"/></notations>`),
	note("D4", 1, `<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>`),
	note("E4", 0, `<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notations><tuplet type="stop"/></notations>`),
	note("C4", 4, `<tie type="start"/>`), note("C4", 4, `<tie type="stop"/>`), note("C4", 4, `<tie type="stop"/><tie type="start"/>`),
	note("C4", 1, `<type>eighth</type><dot/><beam number="1">begin</beam>`), note("C4", 1, `<type>eighth</type><beam number="1">end</beam>`), note("C4", 1, `<type>256th</type>`),
	note("C4", 2, `<notations><slur type="start" number="1"/></notations>`), note("C4", 2, `<notations><slur type="stop" number="1"/></notations>`),
	note("C4", 2, `<notations><slur type="stop" number="1"/><slur type="start" number="1"/><slur type="start" number="2"/></notations>`),
	note("D5", 0, "grace", `<notations><slur type="start" number="1"/></notations>`),
	note("C4", 2, `<notations><fermata/><articulations><staccato/><accent/><breath-mark/></articulations><dynamics><f/></dynamics><ornaments><trill-mark/></ornaments></notations>`),
	`<backup><duration>2</duration></backup>`, `<backup><duration>8</duration></backup>`, `<forward><duration>1</duration></forward>`, `<forward><duration>4</duration></forward>`,
	`<attributes><divisions>2</divisions></attributes>`, `<attributes><divisions>3</divisions></attributes>`, `<attributes><divisions>7</divisions></attributes>`, `<attributes><divisions>512</divisions></attributes>`,
	`<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>`, `<attributes><time symbol="cut"><beats>2</beats><beat-type>2</beat-type></time></attributes>`,
	`<attributes><time><senza-misura/></time></attributes>`, `<attributes><time><beats>3+2</beats><beat-type>64</beat-type></time></attributes>`,
	`<attributes><key><fifths>-3</fifths><mode>minor</mode></key></attributes>`, `<attributes><key><fifths>9</fifths></key></attributes>`, `<attributes><key number="2"><fifths>4</fifths></key></attributes>`,
	`<attributes><clef><sign>F</sign><line>4</line></clef></attributes>`, `<attributes><clef number="2"><sign>TAB</sign></clef></attributes>`,
	`<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>`, `<attributes><transpose><chromatic>9</chromatic><octave-change>-1</octave-change></transpose></attributes>`,
	`<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>`, `<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>`,
	`<barline location="left"><repeat direction="forward"/></barline>`, `<barline location="right"><repeat direction="backward"/></barline>`, `<barline><repeat direction="backward" times="3"/></barline>`,
	`<barline location="left"><ending number="1" type="start"/></barline>`, `<barline><ending number="1" type="stop"/><repeat direction="backward"/></barline>`,
	`<barline location="left"><ending number="2,3" type="start"/></barline>`, `<barline><ending number="2" type="discontinue"/></barline>`, `<barline><ending number="" type="start"/></barline>`,
	`<barline><bar-style>light-heavy</bar-style></barline>`, `<barline location="left"><bar-style>light-light</bar-style></barline>`, `<barline location="middle"><repeat direction="forward"/></barline>`,
	direction("<words>D.C. al Fine</words>"), direction("<words>D.S. al Coda</words>"), direction("<words>To Coda</words>"), direction("<words>Fine</words>"), direction("<segno/>"), direction("<coda/>"),
	direction("<words>Allegro</words>"), direction(`<rehearsal>A</rehearsal>`), direction("<dynamics><ff/></dynamics>"), direction("<dynamics><p/></dynamics>"),
	direction(`<wedge type="crescendo"/>`), direction(`<wedge type="diminuendo"/>`), direction(`<wedge type="stop"/>`),
	direction(`<metronome><beat-unit>quarter</beat-unit><per-minute>96</per-minute></metronome>`), direction(`<metronome><beat-unit>quarter</beat-unit><beat-unit>half</beat-unit></metronome>`),
	`<sound segno="a" coda="b"/>`, `<sound dalsegno="A" tocoda="b"/>`, `<sound tempo="88"/>`, `<sound tempo="2000" dacapo="yes"/>`, `<sound fine="yes" tocoda="a"><offset>3</offset></sound>`, `<direction><direction-type><dynamics><mf/></dynamics></direction-type><offset>-3</offset><staff>2</staff></direction>`,
	`<attributes><transpose><chromatic>-48</chromatic><octave-change>-4</octave-change></transpose></attributes>`, `<attributes><transpose><diatonic>28</diatonic><chromatic>1</chromatic></transpose></attributes>`,
	`<attributes><time><beats>64</beats><beat-type>1</beat-type></time></attributes>`, `<attributes><time><beats>1</beats><beat-type>64</beat-type></time></attributes>`,
	`<attributes><divisions>1000000</divisions></attributes>`, `<attributes><staves>2</staves><key><key-step>B</key-step><key-alter>-1</key-alter></key></attributes>`,
	`<note><pitch><step>B</step><alter>2</alter><octave>9</octave></pitch><duration>1</duration></note>`, `<note><pitch><step>C</step><alter>-1.5</alter><octave>0</octave></pitch><duration>0.125</duration></note>`,
	note("C4", 0, `<type>16th</type><time-modification><actual-notes>7</actual-notes><normal-notes>4</normal-notes></time-modification>`),
	note("C4", 0, `<type>quarter</type><dot/><dot/><time-modification><actual-notes>5</actual-notes><normal-notes>3</normal-notes></time-modification>`), note("C4", 0, `<type>half</type><dot/><dot/><dot/>`),
	note("C4", 1, `<type>breve</type>`), note("C4", 0, `<type>128th</type>`), `<note><duration>2</duration></note>`, `<forward><duration>0.333</duration></forward>`, `<backup><duration>0.5</duration></backup>`,
	`<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>half-diminished</kind><offset>-99</offset></harmony>`,
	`<harmony><root><root-step>G</root-step></root><kind>dominant</kind><offset>1</offset></harmony>`, `<print new-system="yes"/>`,
}

func direction(kind string) string {
	return `<direction><direction-type>` + kind + `</direction-type></direction>`
}

// assembled is the document whose parts are the words that the bytes name.
func assembled(data []byte) string {
	var b strings.Builder
	b.WriteString(`<score-partwise><part-list><score-part id="P1"><part-name>One</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>2</divisions></attributes>`)
	for i, w := range data {
		if i == 200 {
			break
		}
		b.WriteString(words[int(w)%len(words)])
	}
	b.WriteString(`</measure></part></score-partwise>`)
	return b.String()
}

// However the words of music stand, what they say is read soundly.
func FuzzReadElements(f *testing.F) {
	all := make([]byte, len(words))
	for i := range all {
		all[i] = byte(i)
	}
	f.Add(all)
	slices.Reverse(all)
	f.Add(slices.Clone(all))
	for i := range all {
		f.Add([]byte{byte(i), byte(3 * i), byte(7 * i), 0, byte(11 * i), byte(i + 1), 0, byte(i), byte(5 * i)})
	}
	f.Fuzz(func(t *testing.T, data []byte) { proveRead(t, []byte(assembled(data))) })
}

// loose packs members without checksums, so that bytes may change in them.
func loose(t testing.TB, members ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i+1 < len(members); i += 2 {
		w, err := z.CreateRaw(&zip.FileHeader{Name: members[i], Method: zip.Store,
			CompressedSize64: uint64(len(members[i+1])), UncompressedSize64: uint64(len(members[i+1]))})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(members[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whatever is in a compressed file, and whichever of its bytes is damaged (the lower three
// bytes of damage say which, the upper one how), it is refused or read as its score would
// be alone.
func FuzzReadCompressed(f *testing.F) {
	text := xmlOf(fourFour, "C5 8 half\nD5 8 half")
	f.Add(container, "a/score.xml", text, uint32(0))
	f.Add("", "score.musicxml", text, uint32(0x01000000))
	f.Add(`<?xml version="1.0" encoding="ISO-8859-1"?><container><rootfiles><rootfile full-path=".\x.xml" media-type="text/xml"/></rootfiles></container>`, "/x.xml", timewiseText, uint32(0xff000100))
	f.Fuzz(func(t *testing.T, contents, name, text string, damage uint32) {
		if len(name) > 1<<15 || strings.HasSuffix(name, "/") { // no file to zip
			return
		}
		data := loose(t, "META-INF/container.xml", contents, name, text)
		if contents == "" {
			data = loose(t, name, text)
		}
		data[int(damage&0xffffff)%len(data)] ^= byte(damage >> 24)
		p, err := ReadPieceFile("f", bytes.NewReader(data), int64(len(data)))
		if err == nil {
			provePiece(t, p)
		}
		s, warnings, err := ReadFile("f", bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		proveScore(t, s, warnings)
		inside, err := textOfFile(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		alone, _, err := Read(bytes.NewReader(inside))
		if err != nil || !reflect.DeepEqual(alone, s) {
			t.Fatalf("alone its score is read otherwise: %v", err)
		}
	})
}
