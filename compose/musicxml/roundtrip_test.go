package musicxml

import (
	"bytes"
	"fmt"
	"reflect"
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
