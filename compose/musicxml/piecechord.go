package musicxml

import (
	"strconv"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// A PieceChord is a chord symbol at its place, as it sounds. What it has beyond a seventh
// chord is left out.
type PieceChord struct {
	At    rhythm.Offset
	Chord theory.Chord
}

// qualityOf is the nearest chord in use to a kind of MusicXML's.
var qualityOf = map[string]theory.Quality{
	"major": theory.MajorTriad, "minor": theory.MinorTriad, "augmented": theory.AugmentedTriad, "diminished": theory.DiminishedTriad,
	"dominant": theory.DominantSeventh, "major-seventh": theory.MajorSeventhChord, "minor-seventh": theory.MinorSeventhChord,
	"diminished-seventh": theory.DiminishedSeventh, "half-diminished": theory.HalfDiminished, "augmented-seventh": theory.DominantSeventh,
	"major-minor": theory.MinorTriad, "major-sixth": theory.MajorTriad, "minor-sixth": theory.MinorTriad,
	"dominant-ninth": theory.DominantSeventh, "dominant-11th": theory.DominantSeventh, "dominant-13th": theory.DominantSeventh,
	"major-ninth": theory.MajorSeventhChord, "major-11th": theory.MajorSeventhChord, "major-13th": theory.MajorSeventhChord,
	"minor-ninth": theory.MinorSeventhChord, "minor-11th": theory.MinorSeventhChord, "minor-13th": theory.MinorSeventhChord,
	"suspended-second": theory.MajorTriad, "suspended-fourth": theory.MajorTriad, "power": theory.MajorTriad,
}

// harmony takes a chord symbol; those that name no root or no known kind are passed over.
func (p *pieceReader) harmony(e *element) {
	root, kind := e.kid("root"), strings.TrimSpace(e.word("kind"))
	letter := strings.Index("CDEFGAB", root.word("root-step"))
	quality, known := qualityOf[kind]
	alter, err := strconv.Atoi(root.word("root-alter"))
	if root.word("root-alter") == "" {
		alter, err = 0, nil
	}
	if letter < 0 || len(root.word("root-step")) != 1 || err != nil || alter < -1 || alter > 1 || !known {
		return
	}
	chord := theory.Chord{Root: theory.Class{Letter: theory.Letter(letter), Alter: alter}, Quality: quality}
	p.now.chords = append(p.now.chords, PieceChord{p.offset(e), chord.Transpose(p.sounds)})
}
