package main

import (
	"fmt"
	"strconv"
	"strings"

	"onward/midi/band"
	"onward/midi/timeline"
	"onward/styles"

	"github.com/spf13/cobra"
)

// takeOptions say how a take goes: its tempo, its count-in, its clicks and under which
// pressure. None of them is part of a read's identity, or on its page.
type takeOptions struct {
	Slower  percent
	Click   click
	CountIn counted
	NoTonic bool
	Rubato  bool
	pressureOptions
}

func (o *takeOptions) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Var(&o.Slower, "slower", "take it at this `PERCENT` of the page's tempo, 25% to 100%")
	f.Var(&o.Click, "click", "a click on every beat, or `WHERE`: on, off-beats (between the beats alone), off; after the =")
	f.Lookup("click").NoOptDefVal = "on"
	f.Var(&o.CountIn, "count-in", "`N` measures of count-in, 0 to 8 (default: one of a long slow meter, two of others)")
	f.BoolVar(&o.NoTonic, "no-tonic", false, "leave out the tonic chord ahead of the count-in")
	o.bandFlags(cmd)
}

func (o *takeOptions) rubatoFlag(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&o.Rubato, "rubato", false, "slow down a little into the ends of phrases, in styles without drums")
}

// countIn is what sounds ahead of the piece.
func (o *takeOptions) countIn() timeline.CountIn {
	c := timeline.CountIn{Chord: !o.NoTonic, Measures: timeline.ByMeter}
	if o.CountIn.given {
		c.Measures = o.CountIn.measures
	}
	return c
}

// checkRubato refuses it where the band keeps strict time.
func (o *takeOptions) checkRubato(s *styles.Sheet) error {
	if o.Rubato && band.StrictTime(s) {
		return askedf("--rubato: a %s has drums and keeps strict time; leave --rubato out, or choose a style without drums, such as lyrical", s.Name)
	}
	return nil
}

// words say how the take's tempo differs from the page's and under which pressure it is,
// "" where neither. beats is the page's tempo, beat the note that is felt.
func (o *takeOptions) words(beats int, beat string) string {
	var words []string
	if o.Slower.altered() {
		words = append(words, fmt.Sprintf("at %d %% of the page's tempo: %s = %d", o.Slower.value(), beat, o.Slower.of(beats)))
	}
	if o.Rubato {
		words = append(words, "slowing a little into the ends of phrases, and in tempo again")
	}
	return strings.Join(append(words, o.pressureOptions.words()...), "; ")
}

// again lists the flags that make the take so again.
func (o *takeOptions) again() []string {
	var words []string
	if o.Slower.altered() {
		words = append(words, "--slower", o.Slower.String())
	}
	if o.Click != 0 {
		words = append(words, strings.TrimSuffix("--click="+o.Click.String(), "=on"))
	}
	if o.CountIn.given {
		words = append(words, "--count-in", o.CountIn.String())
	}
	if o.NoTonic {
		words = append(words, "--no-tonic")
	}
	if o.Rubato {
		words = append(words, "--rubato")
	}
	return append(words, o.pressureOptions.again()...)
}

// A takeDocument is what a read's document says of a take that is not at the page's
// own tempo, or whose band is another than the read's own.
type takeDocument struct {
	Percent int            `json:"percent"` // of the page's tempo
	BPM     float64        `json:"bpm"`     // felt beats a minute, to a tenth
	Rubato  bool           `json:"rubato"`
	Rests   []restDocument `json:"rests,omitempty"`   // where the band drops out
	Company string         `json:"company,omitempty"` // thirds, counter
}

// document is nil for a take at the page's tempo with the read's own band.
func (o *takeOptions) document(m *made) *takeDocument {
	if !o.Slower.altered() && !o.Rubato && !o.DropOut && o.Company == 0 {
		return nil
	}
	p := o.Slower.value()
	d := &takeDocument{Percent: p, BPM: float64((m.Tempo*p+5)/10) / 10, Rubato: o.Rubato, Rests: restDocuments(m)}
	if o.Company != 0 {
		d.Company = o.Company.String()
	}
	return d
}

// A percent is of the page's tempo; 0 stands for 100.
type percent int

func (p *percent) value() int {
	if *p == 0 {
		return 100
	}
	return int(*p)
}

func (p *percent) altered() bool { return p.value() != 100 }

// of reports the percentage of a tempo as a metronome has it, in whole beats.
func (p *percent) of(beats int) int { return (beats*p.value() + 50) / 100 }

// Set takes "80%" or "80".
func (p *percent) Set(s string) error {
	n, err := strconv.Atoi(strings.TrimSuffix(s, "%"))
	if err != nil || n < 25 || n > 100 {
		return fmt.Errorf("write 25%% to 100%% of the page's tempo")
	}
	*p = percent(n)
	return nil
}

func (p *percent) String() string {
	if *p == 0 {
		return ""
	}
	return fmt.Sprintf("%d%%", int(*p))
}

func (p *percent) Type() string { return "percent" }

// A click is where clicks sound in the piece.
type click band.Click

var clickNames = []string{band.NoClick: "off", band.EveryBeat: "on", band.OffBeats: "off-beats"}

// Set takes one of the names.
func (c *click) Set(s string) error {
	for i, name := range clickNames {
		if s == name {
			*c = click(i)
			return nil
		}
	}
	return fmt.Errorf("write --click for every beat, --click=off-beats, or --click=off")
}

func (c *click) String() string { return clickNames[*c] }

func (c *click) Type() string { return "where" }

// counted is a number of measures of count-in, if one was given.
type counted struct {
	measures int
	given    bool
}

// Set takes 0 to 8.
func (c *counted) Set(s string) error {
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 8 {
		return fmt.Errorf("write 0 to 8 measures")
	}
	c.measures, c.given = n, true
	return nil
}

func (c *counted) String() string {
	if !c.given {
		return ""
	}
	return strconv.Itoa(c.measures)
}

func (c *counted) Type() string { return "measures" }
