// Package band makes the accompaniment of a read: what its style sheet's band plays
// to the read's chords, sections, dynamics and breaths. It stays out of the player's
// way: nothing doubles the line, crosses it where that can be avoided, or is louder.
//
// A part's patterns say when it plays (package styles); this package finds the
// pitches: chords by the cheapest way through all their voicings (voicing.go), bass
// and counter-lines by the cheapest way through all their notes (line.go).
package band

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"onward/compose"
	"onward/midi/timeline"
	"onward/styles"
)

// Options say what goes into an accompaniment besides the band. The zero Options are
// the band alone.
type Options struct {
	// Guide also plays the player's own line, as it sounds, on a track of its own.
	Guide bool
	// CountIn is what sounds ahead: its chord is played by an organ, its counts are
	// wood blocks.
	CountIn timeline.CountIn
	// Click gives clicks in the piece too.
	Click Click
	// Percent is the tempo of the take as a percentage of the page's; 0 is 100.
	Percent int
	// Rubato slows the take down a little into the ends of phrases, and at its end. It
	// is not for bands with drums: those keep strict time (see StrictTime).
	Rubato bool
	// DropOut lets the band, clicks included, rest for some measures, where the read's
	// seed decides (see DropOut), and come back in time. Count-in and guide stay.
	DropOut bool
	// Company plays beside the player, on the player's own kind of instrument, softer than
	// the guide would be.
	Company Company
}

// A Click says where clicks sound in the piece.
type Click uint8

// Where clicks sound: nowhere, on every felt beat, or between the beats alone.
const (
	NoClick Click = iota
	EveryBeat
	OffBeats
)

// Arrange makes the accompaniment of a read from its style's band. The same read
// gives the same events everywhere. It fails on a read that no take can hold (see
// timeline.LayOut) and on patterns that no style sheet's check would pass.
func Arrange(r *compose.Read, opts Options) (*timeline.Timeline, error) {
	if r.Score == nil || r.Style == nil || len(r.Score.Parts) == 0 || len(r.Chords) == 0 || len(r.Sections) == 0 {
		return nil, fmt.Errorf("band: the read %q has no part, style, chords or sections to accompany", r.Title)
	}
	if opts.Rubato && StrictTime(r.Style) {
		return nil, fmt.Errorf("band: rubato in the style %s, whose band has drums", r.Style.Name)
	}
	t, err := newTake(r, opts)
	if err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	if opts.DropOut {
		if err := t.dropOut(); err != nil {
			return nil, fmt.Errorf("band: %w", err)
		}
	}
	out := desk{line: t.l.Timeline(), rested: t.rested}
	t.nameKeys(out.line)
	if err := t.seat(&out); err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	t.addCompany(&out, opts.Company)
	if opts.Guide {
		out.add(t.l.Part.Name, uint8(r.Score.Parts[0].Program), t.guide())
	}
	out.announce(t.l, opts.Click, t.velocity)
	if opts.Rubato {
		out.line.Ease(t.ritards())
	}
	out.line.Events = timeline.Merge(out.voices...)
	if err := out.line.Check(); err != nil {
		return nil, fmt.Errorf("band: seed %d: %w", r.Seed, err)
	}
	return out.line, nil
}

// nameKeys spells the keys as the read's sections name them: the written part may be in
// the key that sounds the same.
func (t *take) nameKeys(line *timeline.Timeline) {
	for i, k := range line.Keys {
		m, ok := t.l.At(k.At)
		for _, s := range t.r.Sections {
			if ok && m.Index >= s.First && m.Index < s.First+s.Measures || !ok && s.First == 0 {
				line.Keys[i].Key = s.Key
			}
		}
	}
}

// usual is the band of a sheet that has none.
var usual = []styles.BandPart{
	{Name: "Tuba", Kind: "bass", Program: 58, Range: []string{"E1", "Eb3"}, Level: 94},
	{Name: "Horns", Kind: "chords", Program: 60, Range: []string{"Bb2", "A5"}, Voices: 3, Level: 68},
}

// seat lets each part play. The bass comes first: others double it or keep clear of it.
func (t *take) seat(out *desk) error {
	parts := t.r.Style.Band.Parts
	if len(parts) == 0 {
		parts = usual
	}
	tones := make([][]timeline.Tone, len(parts))
	for _, kinds := range []string{"bass", "chords counter double drums"} {
		for i := range parts {
			if (parts[i].Kind == "bass") != (kinds == "bass") {
				continue
			}
			p, err := t.newPlayer(&parts[i])
			if err != nil {
				return fmt.Errorf("part %q: %w", parts[i].Name, err)
			}
			tones[i] = p.play()
		}
	}
	for i := range parts {
		if parts[i].Kind == "drums" {
			out.addDrums(parts[i].Name, t.rested(tones[i], 0))
		} else {
			out.add(parts[i].Name, uint8(parts[i].Program), t.rested(tones[i], parts[i].Level))
		}
	}
	return nil
}

// stream reports the random stream of one part, so that a change to a part does not
// reshuffle the rest.
func stream(seed uint64, part string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte("band: " + part))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}
