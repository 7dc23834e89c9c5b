package main

import (
	"encoding/json"
	"os"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// written is the interval up from sounding to written pitch, as tonal names intervals, for
// each instrument (common practice; a trumpet in B-flat reads a whole tone higher than it
// sounds).
var written = map[string]string{
	"flute": "1P", "trombone": "1P", "baritone-bc": "1P", "euphonium-bc": "1P", "tuba-eb": "1P", "tuba-bb": "1P",
	"clarinet": "2M", "trumpet": "2M", "cornet": "2M", "horn": "5P", "alto-sax": "6M", "tenor-sax": "9M",
	"baritone-sax": "13M", "baritone-tc": "9M", "euphonium-tc": "9M", "tuba-eb-tc": "13M", "tuba-bb-tc": "16M",
}

// A tonalBook holds what the library tonal, version 6.4.3, answers.
type tonalBook struct {
	t       *testing.T
	asks    []tonalAsk
	answers map[string]string
}

// A tonalAsk is one question, as tonal.mjs reads it.
type tonalAsk struct {
	Ask  string   `json:"ask"`
	Args []string `json:"args"`
}

func (a tonalAsk) String() string { return a.Ask + " " + strings.Join(a.Args, " ") }

// note puts a question down.
func (b *tonalBook) note(ask string, args ...string) {
	a := tonalAsk{ask, args}
	if _, noted := b.answers[a.String()]; !noted {
		b.asks, b.answers[a.String()] = append(b.asks, a), ""
	}
}

// ask has all questions answered, in one run of node.
func (b *tonalBook) ask(programs string) {
	b.t.Helper()
	text, err := json.Marshal(b.asks)
	if err != nil {
		b.t.Fatal(err)
	}
	var answers []string
	if err := json.Unmarshal(script(b.t, programs, "tonal", "tonal.mjs", text)[0], &answers); err != nil {
		b.t.Fatal(err)
	}
	for i, a := range b.asks {
		if i >= len(answers) || answers[i] == "" {
			b.t.Fatalf("tonal does not know %q", a)
		}
		b.answers[a.String()] = answers[i]
	}
}

// of reports tonal's answer to a question that was put down.
func (b *tonalBook) of(ask string, args ...string) string {
	b.t.Helper()
	answer, noted := b.answers[tonalAsk{ask, args}.String()]
	if !noted {
		b.t.Fatalf("%s %q was not asked", ask, args)
	}
	return answer
}

// symbol is a chord symbol as tonal reads it: a bare letter is a note to it.
func symbol(chord string) string {
	if regexp.MustCompile(`^[A-G][#b]*$`).MatchString(chord) {
		return chord + "M"
	}
	return chord
}

// tones is tonal's pitch classes of a chord symbol, C as 0.
func (b *tonalBook) tones(chord string) map[int]bool {
	b.t.Helper()
	classes := map[int]bool{}
	for _, word := range strings.Fields(b.of("chordChroma", symbol(chord))) {
		class, err := strconv.Atoi(word)
		if err != nil {
			b.t.Fatal(err)
		}
		classes[class] = true
	}
	return classes
}

// moved is tonal's name of a key moved up by an interval: "Bb major" by "2M" is "C major".
func (b *tonalBook) moved(key, interval string) string {
	b.t.Helper()
	tonic, mode, _ := strings.Cut(key, " ")
	return b.of("keyMoved", tonic, mode, interval)
}

// sharps is tonal's number of sharps of a key, flats negative.
func (b *tonalBook) sharps(key string) int {
	b.t.Helper()
	tonic, mode, _ := strings.Cut(key, " ")
	n, err := strconv.Atoi(b.of(mode+"Alteration", tonic))
	if err != nil {
		b.t.Fatal(err)
	}
	return n
}

// noteRead puts down all that a read asks.
func (b *tonalBook) noteRead(r outsideRead) {
	for _, c := range r.document.Chords {
		b.note("chordChroma", symbol(c.Chord))
	}
	for _, s := range r.document.Sections {
		tonic, mode, _ := strings.Cut(s.Key.Concert, " ")
		b.note("keyMoved", tonic, mode, written[r.document.Instrument.ID])
		b.note("keyMoved", tonic, mode, "4P")
		b.note("keyMoved", tonic, "major", "3m")
		b.note(mode+"Alteration", tonic)
		tonic, mode, _ = strings.Cut(s.Key.Written, " ")
		b.note(mode+"Alteration", tonic)
	}
}

// checkTonal compares keys and chords with tonal's: the instrument's key, the signatures on
// the page, the trio, and what band and player play to each chord symbol.
func checkTonal(t *testing.T, programs string, reads []outsideRead) {
	plain := heardSongs(t, programs, reads, func(r outsideRead) string { return r.plain })
	guided := heardSongs(t, programs, reads, func(r outsideRead) string { return r.guided })
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	book := &tonalBook{t: t, answers: map[string]string{}}
	for _, r := range reads {
		book.noteRead(r)
	}
	book.ask(programs)
	trios := map[string]int{}
	heard := map[string]*harmony{}
	for i, r := range reads {
		book.checkKeys(r)
		if fault, how := book.trio(rungs, r); fault != "" {
			t.Errorf("%q: %s", r.asked, fault)
		} else if how != "" {
			trios[how]++
		}
		style := r.document.Style
		if heard[style] == nil {
			heard[style] = &harmony{}
		}
		heard[style].add(book, r, &plain[i], guided[i].guide(t, r))
	}
	t.Logf("trios: %v; %d questions", trios, len(book.asks))
	if trios["subdominant"] == 0 {
		t.Errorf("no trio stands in the subdominant: %v", trios)
	}
	for style, h := range heard {
		t.Logf("%s: %d notes to %d chords are tonal's; the player strikes a chord note at %.1f %% of %d changes",
			style, h.notes, h.chords, 100*float64(h.agree)/float64(h.line), h.line)
		if h.notes == 0 || h.agree*100 < 80*h.line {
			t.Errorf("%s: %+v", style, *h)
		}
	}
}

// fifths finds the key signatures on a page.
var fifths = regexp.MustCompile(`<fifths>(-?\d+)</fifths>`)

// simpler reports whether a key sounds as another that needs seven sharps or flats: a
// copyist writes five flats or sharps in its place.
func simpler(written, moved string) bool {
	a, err := theory.ParseKey(written)
	b, fault := theory.ParseKey(moved)
	return err == nil && fault == nil && max(b.Fifths, -b.Fifths) >= 6 && a.Mode == b.Mode &&
		max(a.Fifths, -a.Fifths)+max(b.Fifths, -b.Fifths) == 12 && a.Tonic().Chroma() == b.Tonic().Chroma()
}

// checkKeys compares the keys of the sections, and the signatures on the page.
func (b *tonalBook) checkKeys(r outsideRead) {
	b.t.Helper()
	var want, got []int
	for _, s := range r.document.Sections {
		if moved := b.moved(s.Key.Concert, written[r.document.Instrument.ID]); s.Key.Written != moved && !simpler(s.Key.Written, moved) {
			b.t.Errorf("%q: %s is written in %s, tonal says %s", r.asked, s.Key.Concert, s.Key.Written, moved)
		}
		want = append(want, b.sharps(s.Key.Written))
	}
	for _, found := range fifths.FindAllSubmatch(load(b.t, r.page), -1) {
		n, err := strconv.Atoi(string(found[1]))
		if err != nil {
			b.t.Fatal(err)
		}
		got = append(got, n)
	}
	if want, got = slices.Compact(want), slices.Compact(got); !slices.Equal(got, want) {
		b.t.Errorf("%q: signatures %v on the page, tonal says %v", r.asked, got, want)
	}
}

// trio says how the key of a read's trio stands to that of its home, and what is wrong with
// it. Of a major home it is the subdominant, one flat more; of a minor one the relative major
// (both common practice). Where the rung does not have that key it is the home's.
func (b *tonalBook) trio(l *ladder.Ladder, r outsideRead) (fault, how string) {
	b.t.Helper()
	d := &r.document
	i := slices.IndexFunc(d.Sections, func(s compose.DocumentSection) bool { return s.Name == "Trio" })
	if i < 0 {
		return "", ""
	}
	home, trio := d.Sections[0].Key.Concert, d.Sections[i].Key.Concert
	wanted, flats, how := b.moved(home, "4P"), 1, "subdominant"
	if tonic, minor := strings.CutSuffix(home, " minor"); minor {
		wanted, flats, how = b.of("keyMoved", tonic, "major", "3m"), 0, "relative major"
	}
	lower, _ := rungHas(l, d.Rung-1)
	switch {
	case trio == wanted && b.sharps(trio) == b.sharps(home)-flats:
		return "", how
	case trio == home && !slices.Contains(lower, wanted): // the rung's own things are few in a read
		return "", "home"
	}
	return "home is " + home + ", the trio stands in " + trio + ", not in " + wanted, ""
}

// A harmony counts what is played to chord symbols.
type harmony struct {
	chords int // chords that the band played to
	notes  int // notes of its chord parts
	line   int // notes of the player that begin with a chord
	agree  int // those of them that are in it
}

// add compares one read: notes of the band's chord parts belong to the chord in force.
func (h *harmony) add(b *tonalBook, r outsideRead, plain *heardSong, line []heardNote) {
	b.t.Helper()
	type change struct {
		at    int64
		chord string
	}
	var changes []change
	for _, m := range playedMeasures(b.t, r) {
		for _, c := range r.document.Chords {
			if c.Measure == m.Number && c.Ticks < int64(m.Length) {
				changes = append(changes, change{int64(m.Offset(rhythm.Offset(c.Ticks))), c.Chord})
			}
		}
	}
	h.chords += len(changes)
	sheet, err := styles.Shipped(r.document.Style)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, p := range sheet.Band.Parts {
		track := plain.track(p.Name)
		if p.Kind != "chords" || track == nil {
			continue
		}
		for _, n := range track.Notes {
			i := sort.Search(len(changes), func(i int) bool { return changes[i].at > n.At }) - 1
			if i < 0 || !b.tones(changes[i].chord)[n.Key%12] {
				b.t.Errorf("%q: %s plays key %d at %d; %v", r.asked, p.Name, n.Key, n.At, changes[max(0, i)])
				return
			}
			h.notes++
		}
	}
	for _, n := range line {
		i, found := slices.BinarySearchFunc(changes, n.At, func(c change, at int64) int { return int(c.at - at) })
		if found {
			h.line++
			if b.tones(changes[i].chord)[n.Key%12] {
				h.agree++
			}
		}
	}
}

// playedMeasures lays the page out as its take is: repeats played, behind the count-in.
func playedMeasures(t *testing.T, r outsideRead) []timeline.PlayedMeasure {
	t.Helper()
	f, err := os.Open(r.page)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	s, _, err := musicxml.ReadFile(r.page, f, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	l, err := timeline.LayOut(&s.Parts[0], timeline.CountIn{Chord: true, Measures: timeline.ByMeter})
	if err != nil {
		t.Fatal(err)
	}
	return l.Measures
}

// Every instrument has its interval in the table.
func TestWrittenIsWhole(t *testing.T) {
	for _, in := range theory.Instruments() {
		if written[in.ID] == "" {
			t.Errorf("no interval for %s", in.ID)
		}
	}
}
