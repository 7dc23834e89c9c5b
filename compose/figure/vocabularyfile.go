package figure

import (
	"fmt"
	"io"

	"onward/rhythm"
	"onward/theory"

	"github.com/pelletier/go-toml/v2"
)

// vocabularyVersion is the version of the file that WriteVocabulary writes.
const vocabularyVersion = 1

type vocabularyFile struct {
	Version int       `toml:"version"`
	Keys    []keyFile `toml:"key,omitempty"`
	Vocabulary
}

// keyFile is a KeyCount with the key by name.
type keyFile struct {
	Key      string `toml:"key"`
	Measures int    `toml:"measures"`
}

// WriteVocabulary writes the vocabulary as TOML for ReadVocabulary. It fails only
// where w does.
func WriteVocabulary(w io.Writer, v Vocabulary) error {
	file := vocabularyFile{Version: vocabularyVersion, Vocabulary: v}
	for _, k := range v.Keys {
		file.Keys = append(file.Keys, keyFile{k.Key.String(), k.Measures})
	}
	_, err := io.WriteString(w, "# The figures that a player has drilled, as onward learn found them.\n")
	if err == nil {
		err = toml.NewEncoder(w).Encode(file)
	}
	if err != nil {
		return fmt.Errorf("vocabulary: %w", err)
	}
	return nil
}

// ReadVocabulary reads what WriteVocabulary wrote; name is the file's, for errors.
// Unknown keys, another version, shapes and cells that neither the catalogue nor the
// file's own shapes have, and counts below 0 are errors that say where and how to mend them.
func (c *Catalogue) ReadVocabulary(r io.Reader, name string) (Vocabulary, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return Vocabulary{}, fmt.Errorf("%s: %w", name, err)
	}
	var file vocabularyFile
	if err := decode(name, data, &file); err != nil {
		return Vocabulary{}, err
	}
	if file.Version != vocabularyVersion {
		return Vocabulary{}, fmt.Errorf("%s: version %d, this program reads version %d; learn the exercises anew with onward learn",
			name, file.Version, vocabularyVersion)
	}
	v, err := c.checked(file)
	if err != nil {
		return Vocabulary{}, fmt.Errorf("%s: %w", name, err)
	}
	return v, nil
}

// checked reports the file's vocabulary in order, if all that it names exists.
func (c *Catalogue) checked(file vocabularyFile) (Vocabulary, error) {
	v := Vocabulary{Total: file.Total, Explained: file.Explained, Cells: file.Cells, Meters: file.Meters, Own: file.Own}
	c, err := c.With(file.Own)
	if err != nil {
		return v, err
	}
	for i, e := range file.Figures {
		if err := c.checkEntry(e); err != nil {
			return v, fmt.Errorf("figure %d: %w", i+1, err)
		}
		if v.Knows(e.Figure) {
			return v, fmt.Errorf("figure %d: %q on %q stands twice; take one out", i+1, e.Shape, e.Cell)
		}
		v.add(e)
	}
	for i, x := range file.Cells {
		if c.Cell(x.Cell) == nil {
			return v, fmt.Errorf("cell %d: no cell %q; onward figures lists what there is", i+1, x.Cell)
		}
	}
	for i, x := range file.Keys {
		k, err := theory.ParseKey(x.Key)
		if err != nil {
			return v, fmt.Errorf("key %d: %w", i+1, err)
		}
		v.Keys = append(v.Keys, KeyCount{k, x.Measures})
	}
	for i, x := range file.Meters {
		if _, err := rhythm.ParseMeter(x.Meter); err != nil {
			return v, fmt.Errorf("meter %d: %w", i+1, err)
		}
	}
	return v, nil
}

func (c *Catalogue) checkEntry(e Entry) error {
	s, cell := c.Shape(e.Shape), c.Cell(e.Cell)
	if s == nil || cell == nil || s.Notes() != cell.Onsets() {
		return fmt.Errorf("no shape %q on a cell %q of as many notes; onward figures lists what there is", e.Shape, e.Cell)
	}
	if e.Count < 0 || e.Within < 0 || e.Count+e.Within == 0 || e.Notes != e.Count*s.Notes() {
		return fmt.Errorf("count %d, within %d, notes %d: the notes are count times %d, and the figure was met at least once",
			e.Count, e.Within, e.Notes, s.Notes())
	}
	return nil
}
