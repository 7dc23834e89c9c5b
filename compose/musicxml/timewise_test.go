package musicxml

import (
	"strings"
	"testing"

	"onward/compose/score"
)

const timewiseText = `<score-timewise version="4.0"><work><work-title>Turned</work-title></work>
<part-list><score-part id="P1"><part-name>High</part-name></score-part><score-part id="P2"><part-name>Low</part-name></score-part></part-list>
<measure number="1">
<part id="P1"><attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>2</beats><beat-type>4</beat-type></time><clef><sign>G</sign></clef></attributes>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>2</duration></note></part>
<part id="P2"><attributes><divisions>2</divisions><key><fifths>0</fifths></key><time><beats>2</beats><beat-type>4</beat-type></time><clef><sign>F</sign></clef></attributes>
<note><pitch><step>C</step><octave>3</octave></pitch><duration>4</duration></note></part>
</measure>
<measure number="2" implicit="yes">
<part id="P1"><note><pitch><step>D</step><octave>5</octave></pitch><duration>2</duration></note></part>
<part id="P2"><note><pitch><step>D</step><octave>3</octave></pitch><duration>2</duration></note><note><pitch><step>E</step><octave>3</octave></pitch><duration>2</duration></note></part>
</measure></score-timewise>`

// A timewise score is read as the partwise one of the same music.
func TestReadTimewise(t *testing.T) {
	s, warnings, err := Read(strings.NewReader(timewiseText))
	if err != nil || len(warnings) > 0 || s.Title != "Turned" || len(s.Parts) != 2 || s.Parts[1].Name != "Low" {
		t.Fatalf("%v, %v, %v", s, warnings, err)
	}
	for i, want := range []string{"key C major; 2/4 treble C5:2 | D5:2 |", "key C major; 2/4 bass C3:2 | pickup D3:4 E3:4 |"} {
		s.Parts[i].Name = ""
		if got := strings.Replace(score.Text(s.Parts[i]), "pickup D5", "D5", 1); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	p, err := ReadPiece(strings.NewReader(timewiseText))
	if err != nil || said(p.Parts[0].Notes[1]) != "0+4:74" || said(p.Parts[1].Notes[1]) != "0+2:50 2+2:52" {
		t.Errorf("%v, %v", p, err)
	}
	broken := strings.Replace(timewiseText, "<step>E", "<step>X", 1)
	if _, err := ReadPiece(strings.NewReader(broken)); err == nil || !strings.Contains(err.Error(), `part Low: measure 2: step "X" is not A to G (line 11)`) {
		t.Errorf("%v", err)
	}
}
