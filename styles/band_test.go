package styles

import (
	"fmt"
	"strings"
	"testing"

	"onward/rhythm"
)

func TestPatterns(t *testing.T) {
	for _, c := range []struct{ kind, meter, text, want string }{
		{"bass", "6/8", "1..5..", "1@0+1s 5@3+1s"},
		{"bass", "3/4", "1-- | 1-5", "1@0+6 | 1@0+4 5@4+2s"},
		{"chords", "2/4", ".x .x / x-xx", "x@1+1s x@3+1s / x@0+2 x@2+1s x@3+1s"},
		{"chords", "4/4", "ab cd", "a@0+2s b@2+2s c@4+2s d@6+2s"},
		{"drums", "2/4", "F.r-", "f!@0+1s r@2+2"},
		{"double", "cut", "=", "=@0+8s"},
		{"bass", "6/8", "", ""},
	} {
		m, err := rhythm.ParseMeter(c.meter)
		if err != nil {
			t.Fatal(err)
		}
		p, err := ParsePattern(c.text, m, c.kind)
		if err != nil {
			t.Errorf("%s %q: %v", c.meter, c.text, err)
			continue
		}
		if got := sayPattern(p); got != c.want {
			t.Errorf("%s %q: %s, want %s", c.meter, c.text, got, c.want)
		}
	}
}

// sayPattern writes strokes with place and length in eighths.
func sayPattern(p Pattern) string {
	var alternatives []string
	for _, a := range p {
		var measures []string
		for _, m := range a {
			var strokes []string
			for _, s := range m {
				text := string(s.Play)
				if s.Accent {
					text += "!"
				}
				text += fmt.Sprintf("@%d+%d", s.At/rhythm.Offset(rhythm.Eighth), s.Hold/rhythm.Eighth)
				if s.Short {
					text += "s"
				}
				strokes = append(strokes, text)
			}
			measures = append(measures, strings.Join(strokes, " "))
		}
		alternatives = append(alternatives, strings.Join(measures, " | "))
	}
	return strings.Join(alternatives, " / ")
}

func TestMostParticularPatternIsPlayed(t *testing.T) {
	p := BandPart{Play: map[string]string{
		"6/8": "plain", "6/8 loud": "loud", "6/8 loud again": "loud again", "6/8 smooth": "smooth",
		"6/8 cadence": "cadence", "6/8 cadence free": "fill", "2/4": "two",
	}}
	six, two, three := rhythm.Meter{Beats: 6, Unit: 8}, rhythm.Meter{Beats: 2, Unit: 4}, rhythm.Meter{Beats: 3, Unit: 4}
	for _, c := range []struct {
		m    rhythm.Meter
		in   Situation
		want string
	}{
		{six, 0, "plain"}, {six, Soft, "plain"}, {six, Loud, "loud"}, {six, Loud | Repeat, "loud again"},
		{six, Loud | Smooth, "smooth"}, {six, Loud | Repeat | Cadence, "cadence"}, {six, Cadence | Free, "fill"},
		{six, Free, "plain"}, {two, Loud | Cadence, "two"},
	} {
		if got, ok := p.Pattern(c.m, c.in); got != c.want || !ok {
			t.Errorf("%s, situation %b: %q, want %q", c.m, c.in, got, c.want)
		}
	}
	if got, ok := p.Pattern(three, Loud); ok {
		t.Errorf("3/4: %q out of nothing", got)
	}
}

func TestWrongBandsAreRefusedWithPlace(t *testing.T) {
	good, err := shipped.ReadFile("march.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`"6/8 smooth" = "1..5.. / 1..5.. | 1..3.."`, `"6/8 smooth" = "1..5"`, `"Tuba": 6/8 smooth: pattern "1..5": 4 signs do not divide`},
		{`"6/8 break" = "1..1.. | 1..5.."`, `"6/8 break" = "1..q.."`, `sign 'q' is not one of`},
		{`"6/8 break" = "1..1.. | 1..5.."`, `"6/8 break" = "-..1.."`, `follows no stroke`},
		{`"6/8 break" = "1..1.. | 1..5.."`, `"6/8 brake" = "1..1.."`, `"brake" is not one of soft, loud`},
		{`"6/8 break" = "1..1.. | 1..5.."`, `"7/x break" = "1..1.."`, `meter "7/x"`},
		{`"6/8 break" = "1..1.. | 1..5.."`, "\"6/8 break smooth\" = \"1..1..\"\n\"6/8 smooth break\" = \"1..5..\"", "are one situation"},
		{`kind = "bass"`, `kind = "base"`, `kind "base" is not bass, chords`},
		{`range = ["E1", "Eb3"]`, `range = ["E1", "E2"]`, "octave and a fourth"},
		{`range = ["E1", "Eb3"]`, `range = ["E1"]`, "lowest and the highest"},
		{`range = ["E1", "Eb3"]`, `reach = ["E1", "Eb3"]`, `key "band.part.reach"`},
		{`level = 96`, `level = 140`, "level = 140"},
		{`voices = 3`, `voices = 7`, "voices = 7"},
		{`key = 38`, `key = 3`, "key 3 is no percussion key"},
		{`program = 58`, `program = 158`, "program 158"},
		{`name = "Horns"`, `name = "Tuba"`, "part 2: give it a name"},
	} {
		at := strings.Index(string(good), c.old)
		if at < 0 {
			t.Fatalf("the march sheet no longer holds %s", c.old)
		}
		bad := strings.Replace(string(good), c.old, c.new, 1)
		_, err := Parse("dirge.toml", []byte(bad))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "dirge.toml:") {
			t.Errorf("%s: got %v, want %q in it", c.new, err, c.want)
		}
	}
}

// The shipped sheets' bands have bass and chords for every meter of the sheet.
func TestShippedBandsPlayEveryMeter(t *testing.T) {
	for _, name := range Names() {
		s, err := Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		kinds := map[string]bool{}
		for _, p := range s.Band.Parts {
			kinds[p.Kind] = true
			for _, meter := range s.Meters {
				m, err := rhythm.ParseMeter(meter.Name)
				if err != nil {
					t.Fatal(err)
				}
				if _, ok := p.Pattern(m, 0); !ok {
					t.Errorf("%s: %s has no plain pattern in %s", name, p.Name, m)
				}
			}
		}
		if !kinds["bass"] || !kinds["chords"] {
			t.Errorf("%s: the band has %v", name, kinds)
		}
	}
}
