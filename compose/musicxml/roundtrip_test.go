package musicxml

import (
	"bytes"
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"

	"onward/compose/score"

	"pgregory.net/rapid"
)

// What Write wrote, Read reads back as the very same score, without a warning, and
// Write writes it as the very same bytes again.
func TestWriteThenRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawScore(t)
		if err := score.Check(want).Err(); err != nil {
			t.Fatalf("the drawn score is not legal: %v", err)
		}
		var file bytes.Buffer
		if err := Write(&file, want); err != nil {
			t.Fatal(err)
		}
		got, warnings, err := Read(bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatalf("%v\n%s", err, file.Bytes())
		}
		if len(warnings) > 0 {
			t.Fatalf("warnings about a file of ours: %v", warnings)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("not the same score:\n got %s\nwant %s\n%s", textOf(got), textOf(want), unlike(got, want))
		}
		var again bytes.Buffer
		if err := Write(&again, got); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(again.Bytes(), file.Bytes()) {
			t.Fatalf("not the same bytes: %s", firstDifference(again.Bytes(), file.Bytes()))
		}
	})
}

// The text of any legal part reads as a part of the same text.
func TestTextOfRandomParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := score.Text(drawPart(t, false))
		p, err := score.ParseText(want)
		if err != nil {
			t.Fatalf("%v\n%s", err, want)
		}
		if got := score.Text(p); got != want {
			t.Fatalf("\n got %s\nwant %s", got, want)
		}
	})
}

func textOf(s *score.Score) string {
	text := s.Title + "/" + s.Subtitle + "/" + s.Composer + "/" + s.Identity
	for _, p := range s.Parts {
		text += "\n" + score.Text(p)
	}
	return text
}

// unlike names the first measure that differs in what Text does not show.
func unlike(got, want *score.Score) string {
	for i := range min(len(got.Parts), len(want.Parts)) {
		g, w := got.Parts[i].Measures, want.Parts[i].Measures
		for k := range min(len(g), len(w)) {
			for j := range min(len(g[k].Notes), len(w[k].Notes)) {
				if !reflect.DeepEqual(g[k].Notes[j], w[k].Notes[j]) {
					return score.Text(score.Part{Measures: g[k : k+1]}) + "\n" + reflectText(g[k].Notes[j]) + "\n" + reflectText(w[k].Notes[j])
				}
			}
			if !reflect.DeepEqual(g[k], w[k]) {
				return reflectText(g[k]) + "\n" + reflectText(w[k])
			}
		}
	}
	return ""
}

func reflectText(v any) string { return fmt.Sprintf("%+v", v) }

// A tie into the second ending stays, though its neighbour is the first ending.
func TestTieIntoSecondEnding(t *testing.T) {
	p := score.MustText("key C; 4/4 treble |: C4:1 | D4:1~ | [1 D4:1 ] :| [2 D4:1 ] |]")
	p.Measures[3].Notes[0].TieStop = true
	s := &score.Score{Parts: []score.Part{p}}
	got, warnings, err := Read(bytes.NewReader(written(t, s)))
	if err != nil || len(warnings) > 0 || !reflect.DeepEqual(got, s) {
		t.Errorf("%v, %v: %s", err, warnings, textOf(got))
	}
}

// march is a part of 128 measures.
func march() *score.Score {
	p := score.MustText("key F; 6/8 treble " + strings.Repeat("F4:4( A4:8) C5:8' Bb4:8' G#4:8' | ", 127) + "F4:2. |]")
	return &score.Score{Title: "March", Parts: []score.Part{p}}
}

func BenchmarkWrite(b *testing.B) {
	s := march()
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, s); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	var file bytes.Buffer
	if err := Write(&file, march()); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Read(bytes.NewReader(file.Bytes())); err != nil {
			b.Fatal(err)
		}
	}
}
