package stand

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/session"
)

// What a choice may be at most and at least is taken, and what is past that is not.
func TestChoiceBounds(t *testing.T) {
	names := func(n int) []string { return strings.Split(strings.Repeat("x ", n-1)+"x", " ") }
	long, longest := strings.Repeat("x", maxName+1), strings.Repeat("x", maxName)
	for _, c := range []struct {
		what       string
		well, past []session.Choice
	}{
		{"rung", []session.Choice{{Rung: 0}, {Rung: 1}, {Rung: 12}}, []session.Choice{{Rung: -1}, {Rung: 13}}},
		{"tempo", []session.Choice{{Percent: 0}, {Percent: 25}, {Percent: 100}}, []session.Choice{{Percent: -1}, {Percent: 24}, {Percent: 101}}},
		{"minutes", []session.Choice{{Minutes: 0}, {Minutes: 600}}, []session.Choice{{Minutes: -1}, {Minutes: 601}}},
		{"look-over", []session.Choice{{LookOver: 0}, {LookOver: 10 * time.Minute}}, []session.Choice{{LookOver: -1}, {LookOver: 10*time.Minute + 1}}},
		{"coverage", []session.Choice{{Coverage: 0}, {Coverage: 1}}, []session.Choice{{Coverage: -0.01}, {Coverage: 1.01}}},
		{"at most 64 names", []session.Choice{{Pressure: names(64)}, {Figures: names(64)}}, []session.Choice{{Pressure: names(65)}, {Figures: names(65)}}},
		{"200 bytes", []session.Choice{{Style: longest}, {Instrument: longest}, {Key: longest}, {Pressure: []string{longest}}},
			[]session.Choice{{Style: long}, {Instrument: long}, {Key: long}, {Kind: session.Kind(long)}, {Pressure: []string{"x", long}}, {Figures: []string{long}}}},
	} {
		for _, w := range c.well {
			if err := checkChoice(&w); err != nil {
				t.Errorf("%.80v: %v", w, err)
			}
		}
		for _, p := range c.past {
			if err := checkChoice(&p); err == nil || !strings.Contains(err.Error(), c.what) {
				t.Errorf("%.80v: %v, want %q", p, err, c.what)
			}
		}
	}
	if a, err := decodeAction([]byte(fmt.Sprintf(`{"do":%q}`, longest)), &session.Choice{}); err != nil || string(a.Do) != longest {
		t.Errorf("%d bytes: %v", len(longest), err)
	}
	if _, err := decodeAction([]byte(fmt.Sprintf(`{"do":%q}`, long)), &session.Choice{}); err == nil {
		t.Errorf("%d bytes are an action", len(long))
	}
}

// What is listed may be chosen, and what is chosen already may stay, though nothing is listed yet.
func TestListed(t *testing.T) {
	named := func(id string) []session.Named { return []session.Named{{ID: "other"}, {ID: id}} }
	now := session.Choice{Kind: session.Read, Style: "mine", Instrument: "kazoo", Pressure: []string{"cold"}}
	offer := &session.Offer{Styles: named("march"), Instruments: named("tuba"), Pressures: named("cover")}
	for _, c := range []struct {
		choice session.Choice
		offer  *session.Offer
		want   string // part of the error, "" for none
	}{
		{now, nil, ""},
		{now, offer, ""},
		{session.Choice{Kind: session.Drill, Style: "march", Instrument: "tuba", Pressure: []string{"cover", "cold"}}, offer, ""},
		{session.Choice{Kind: session.WarmUp, Style: "mine", Instrument: "kazoo"}, nil, ""},
		{session.Choice{Kind: session.Pause, Style: "mine", Instrument: "kazoo"}, nil, ""},
		{session.Choice{Kind: session.Read, Style: "march", Instrument: "kazoo"}, nil, "style"},
		{session.Choice{Kind: session.Read, Style: "", Instrument: "kazoo"}, offer, "style"},
		{session.Choice{Kind: session.Read, Style: "mine", Instrument: "march"}, offer, "instrument"},
		{session.Choice{Kind: session.Read, Style: "mine", Instrument: "kazoo", Pressure: []string{"cold", "tuba"}}, offer, "pressure"},
		{session.Choice{Kind: "", Style: "mine", Instrument: "kazoo"}, offer, "kind"},
	} {
		err := listed(&c.choice, &session.State{Choice: now, Offer: c.offer})
		if (err == nil) != (c.want == "") || err != nil && !strings.HasPrefix(err.Error(), c.want+":") {
			t.Errorf("%+v: %v, want %q", c.choice, err, c.want)
		}
	}
	if err := listed(nil, &session.State{}); err != nil {
		t.Errorf("no choice: %v", err)
	}
}
