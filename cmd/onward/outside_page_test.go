package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"onward/rhythm"
)

// checkSchema has an independent validator find every page valid against the MusicXML 4.0
// schema (W3C).
func checkSchema(t *testing.T, schema string, reads []outsideRead) {
	if _, err := os.Stat(schema); err != nil {
		absent(t, "the MusicXML schema is not at ../shared/musicxml-schema")
	}
	xmllint := lookedFor(t, "xmllint", " (Debian: libxml2-utils)")
	args := []string{"--noout", "--nonet", "--schema", filepath.Join(schema, "musicxml.xsd")}
	for _, r := range reads {
		args = append(args, r.page)
	}
	lint := exec.Command(xmllint, args...)
	lint.Env = append(os.Environ(), "XML_CATALOG_FILES="+filepath.Join(schema, "catalog.xml"))
	if out, err := lint.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	t.Logf("%d pages are valid", len(reads))
}

// An engravedNote is a note as the engraver plays the page: when, in quarters from the
// start, its MIDI number as it sounds, and 1 for a grace note.
type engravedNote [3]float64

// ticks reports when the note begins, in our ticks; whole says that it falls on one.
func (n engravedNote) ticks() (at int64, whole bool) {
	exact := n[0] * float64(rhythm.TicksPerQuarter)
	at = int64(math.Round(exact))
	return at, math.Abs(exact-float64(at)) < 0.01
}

// checkEngraver has an independent engraver (verovio 6.3.0) play the pages, repeats and
// endings too: onsets and sounding pitches are those of the player's line in our MIDI.
func checkEngraver(t *testing.T, programs string, reads []outsideRead) {
	args := []string{"--played"}
	for _, r := range reads {
		args = append(args, r.page)
	}
	lines := script(t, programs, "verovio", "engraver.mjs", nil, args...)
	songs := heardSongs(t, programs, reads, func(r outsideRead) string { return r.guided })
	if len(lines) != len(reads) {
		t.Fatalf("%d answers to %d pages", len(lines), len(reads))
	}
	notes, graces, again := 0, 0, 0
	for i, r := range reads {
		var engraved []engravedNote
		if err := json.Unmarshal(lines[i], &engraved); err != nil {
			t.Fatalf("%q: %v", r.asked, err)
		}
		if fault := unlikeGuide(engraved, songs[i].guide(t, r), songs[i].start()); fault != "" {
			t.Errorf("%q: %s", r.asked, fault)
		}
		notes += len(engraved)
		for _, n := range engraved {
			graces += int(n[2])
		}
		if repeats(r) {
			again++
		}
	}
	t.Logf("%d notes of %d reads, %d of them with repeats, agree; %d are grace notes, compared by pitch", notes, len(reads), again, graces)
	if again == 0 || graces == 0 && len(reads) > 100 { // graces are rare
		t.Errorf("%d reads with repeats and %d grace notes: too few of them are compared", again, graces)
	}
}

func repeats(r outsideRead) bool {
	for _, s := range r.document.Sections {
		if s.Repeat {
			return true
		}
	}
	return false
}

// unlikeGuide says how the engraver's notes differ from those of the guide, whose piece
// begins at start; "" for not at all. Of grace notes only the pitch counts; the note that
// they lead to may stand where the engraver has the first of them.
func unlikeGuide(engraved []engravedNote, guide []heardNote, start int64) string {
	type struck struct {
		at  int64
		key int
	}
	left := map[struck]int{}
	for _, n := range guide {
		left[struck{n.At - start, n.Key}]++
	}
	if len(engraved) != len(guide) {
		return fmt.Sprintf("the engraver plays %d notes, the guide %d", len(engraved), len(guide))
	}
	var graces []int
	grace := int64(-1) // where the first of the grace notes before stands
	for _, n := range engraved {
		at, whole := n.ticks()
		switch {
		case n[2] == 1:
			graces = append(graces, int(n[1]))
			if grace < 0 {
				grace = at
			}
			continue
		case grace >= 0 && left[struck{at, int(n[1])}] == 0:
			at, whole = grace, true
		}
		grace = -1
		k := struck{at, int(n[1])}
		if !whole || left[k] == 0 {
			return fmt.Sprintf("the engraver plays %v at quarter %v, the guide does not", n[1], n[0])
		}
		if left[k]--; left[k] == 0 {
			delete(left, k)
		}
	}
	var rest []int
	for k, n := range left {
		for range n {
			rest = append(rest, k.key)
		}
	}
	slices.Sort(rest)
	slices.Sort(graces)
	if !slices.Equal(rest, graces) {
		return fmt.Sprintf("the guide plays %v besides, the engraver the grace notes %v", rest, graces)
	}
	return ""
}
