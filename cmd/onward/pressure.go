package main

import (
	"fmt"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/band"

	"github.com/spf13/cobra"
)

// pressureOptions make a take more like a performance. Like the rest of a take's options
// they are no part of a read's identity, or on its page.
type pressureOptions struct {
	Cold    bool    // no look-over and no hints
	DropOut bool    // the band rests for some measures
	Company company // another part beside the player
	Cover   bool    // what is played is covered; for screens that show the page
	Panel   bool    // one look-over, one take, no second try
}

// A pressure is a step of pressure: one condition of a performance.
type pressure struct {
	name  string // as the journal has it
	words string // what it asks of the player
	asked func(*pressureOptions) bool
	ask   func(*pressureOptions)
}

// pressures are the steps in rising order, the first above playing without any. What
// names a step, in the journal or in what the ladder proposes, names it by these.
var pressures = []pressure{
	{journal.Cold, "no look-over: you see the page, and the count-in comes",
		func(o *pressureOptions) bool { return o.Cold }, func(o *pressureOptions) { o.Cold = true }},
	{journal.DropOut, "the band rests for some measures and comes back in time: keep the beat alone",
		func(o *pressureOptions) bool { return o.DropOut }, func(o *pressureOptions) { o.DropOut = true }},
	{journal.Company, "another part plays beside you: keep to yours",
		func(o *pressureOptions) bool { return o.Company != 0 }, func(o *pressureOptions) { o.Company = company(band.Thirds) }},
	{journal.Cover, "measures are covered once they are played: look ahead, never back",
		func(o *pressureOptions) bool { return o.Cover }, func(o *pressureOptions) { o.Cover = true }},
	{journal.Panel, "as before a jury: one look-over, one take, no second try",
		func(o *pressureOptions) bool { return o.Panel }, func(o *pressureOptions) { o.Panel = true }},
}

// bandFlags are the flags of pressures that stand in the band's files.
func (o *pressureOptions) bandFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.DropOut, "drop-out", false, "the band rests for some measures, where is told afterwards, and comes back in time")
	f.Var(&o.Company, "company", "another part beside you, in thirds and sixths, or `HOW`: thirds, counter (a line of its own), off; after the =")
	f.Lookup("company").NoOptDefVal = companyNames[band.Thirds]
}

// takeFlags are the flags of pressures that only a take has.
func (o *pressureOptions) takeFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.Cold, "cold", false, "no look-over and no hints: the page, then the count-in at once")
	f.BoolVar(&o.Cover, "cover", false, "measures are covered once they are played, on the screens that show them")
	f.BoolVar(&o.Panel, "panel", false, "as before a jury: one look-over, one take of a fresh read, no second try")
}

// kinds names the pressures asked for, in rising order; nil for none.
func (o *pressureOptions) kinds() (names []string) {
	for _, p := range pressures {
		if p.asked(o) {
			names = append(names, p.name)
		}
	}
	return names
}

// press asks for pressures by name, beside those asked for already. It fails on a name
// that none has.
func (o *pressureOptions) press(names []string) error {
	for _, name := range names {
		p, err := pressureNamed(name)
		if err != nil {
			return err
		}
		if !p.asked(o) {
			p.ask(o)
		}
	}
	return nil
}

func pressureNamed(name string) (*pressure, error) {
	var all []string
	for i := range pressures {
		if pressures[i].name == name {
			return &pressures[i], nil
		}
		all = append(all, pressures[i].name)
	}
	return nil, fmt.Errorf("pressure %q: want one of %s", name, strings.Join(all, ", "))
}

// words say ahead of a take what its pressures ask, but for where the band rests.
func (o *pressureOptions) words() (words []string) {
	for _, p := range pressures {
		switch {
		case !p.asked(o):
		case p.name == journal.Company && band.Company(o.Company) == band.Counter:
			words = append(words, "another part plays a line of its own beside you: keep to yours")
		default:
			words = append(words, p.words)
		}
	}
	return words
}

// again lists the flags that put a take under the same pressure again. A panel hears a
// read once.
func (o *pressureOptions) again() (words []string) {
	if o.Cold {
		words = append(words, "--cold")
	}
	if o.DropOut {
		words = append(words, "--drop-out")
	}
	if o.Cover {
		words = append(words, "--cover")
	}
	if o.Company != 0 {
		words = append(words, strings.TrimSuffix("--company="+o.Company.String(), "=thirds"))
	}
	return words
}

// refuseAgain refuses a read that the player had before, where a panel is to hear it.
func (o *pressureOptions) refuseAgain(had time.Time) error {
	if !o.Panel {
		return nil
	}
	return askedf("--panel: you had this read before, on %s, and a panel hears a read once: leave --panel out, or ask for another read (another --seed, or none)",
		had.Local().Format("2 January 2006"))
}

// A restDocument says where the band drops out, in printed measures, both rested.
type restDocument struct {
	From int `json:"from"`
	To   int `json:"to"`
	Pass int `json:"pass"` // 1 the first time through, 2 on the repeat
}

// restDocuments say where the band of a read drops out.
func restDocuments(m *made) []restDocument {
	part := &m.Score.Parts[0]
	var all []restDocument
	for _, r := range m.rests {
		all = append(all, restDocument{printed(part, r.First), printed(part, r.Last), r.Pass})
	}
	return all
}

// restWords say it after the take; "" where the band played all the time.
func restWords(m *made) string {
	var words []string
	for _, r := range restDocuments(m) {
		word := fmt.Sprintf("in %d to %d", r.From, r.To)
		if r.Pass > 1 {
			word += " the second time"
		}
		words = append(words, word)
	}
	if n := len(words) - 1; n > 0 {
		words = []string{strings.Join(words[:n], ", "), words[n]}
	}
	if len(words) == 0 {
		return ""
	}
	return "rested " + strings.Join(words, " and ")
}

// A company is who plays beside the player.
type company band.Company

var companyNames = []string{band.NoCompany: "off", band.Thirds: "thirds", band.Counter: "counter"}

// Set takes one of the names.
func (c *company) Set(s string) error {
	for i, name := range companyNames {
		if s == name {
			*c = company(i)
			return nil
		}
	}
	return fmt.Errorf("write --company for a part in thirds and sixths, --company=counter, or --company=off")
}

func (c *company) String() string { return companyNames[*c] }

func (c *company) Type() string { return "how" }
