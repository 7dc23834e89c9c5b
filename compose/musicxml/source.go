package musicxml

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// textOfFile reports the score's text in a plain or compressed file.
func textOfFile(r io.ReaderAt, size int64) ([]byte, error) {
	magic := make([]byte, 4)
	if n, _ := r.ReadAt(magic, 0); n == len(magic) && string(magic[:2]) == "PK" {
		return unpack(r, size)
	}
	return readAll(io.NewSectionReader(r, 0, size), maxSize)
}

// unpack reports the score's text inside a compressed file: the first score that its
// table of contents names, or the only one there is where the table is absent.
func unpack(r io.ReaderAt, size int64) ([]byte, error) {
	if size > maxPacked {
		return nil, fmt.Errorf("the compressed file is longer than %d MB", maxPacked>>20)
	}
	archive, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("the compressed file is damaged: %w", err)
	}
	if len(archive.File) > maxEntries {
		return nil, fmt.Errorf("the compressed file holds more than %d files", maxEntries)
	}
	score, err := scoreIn(archive)
	if err != nil {
		return nil, err
	}
	return member(archive, score, maxSize)
}

const tableOfContents = "META-INF/container.xml"

// scoreIn finds the path of the score.
func scoreIn(archive *zip.Reader) (string, error) {
	contents, err := member(archive, tableOfContents, maxContainer)
	if errors.Is(err, errAbsent) {
		return onlyScore(archive, err)
	}
	if err != nil {
		return "", err
	}
	var container struct {
		Files []struct {
			Path string `xml:"full-path,attr"`
			Type string `xml:"media-type,attr"`
		} `xml:"rootfiles>rootfile"`
	}
	d := decoder(contents)
	if err := d.Decode(&container); err != nil {
		return "", fmt.Errorf("%s: not well-formed XML: %.200s", tableOfContents, err)
	}
	for _, f := range container.Files {
		if f.Type == "" || strings.Contains(f.Type, "xml") {
			return f.Path, nil
		}
	}
	return "", fmt.Errorf("%s names no score", tableOfContents)
}

// onlyScore finds the one file of a score's suffix; absent is the error where there is
// no one such.
func onlyScore(archive *zip.Reader, absent error) (string, error) {
	found := ""
	for _, f := range archive.File {
		suffix := strings.ToLower(path.Ext(f.Name))
		if strings.HasPrefix(f.Name, "META-INF/") || suffix != ".xml" && suffix != ".musicxml" {
			continue
		}
		if found != "" {
			return "", fmt.Errorf("%w, and both %.100s and %.100s may be the score", absent, found, f.Name)
		}
		found = f.Name
	}
	if found == "" {
		return "", absent
	}
	return found, nil
}

var errAbsent = errors.New("the compressed file holds no")

func member(archive *zip.Reader, name string, limit int64) ([]byte, error) {
	for _, f := range archive.File {
		if plainPath(f.Name) != plainPath(name) {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%.200s in the compressed file: %w", name, err)
		}
		defer r.Close()
		text, err := readAll(&swelling{in: r, packed: int64(f.CompressedSize64)}, limit)
		if err != nil {
			return nil, fmt.Errorf("%.200s in the compressed file: %w", name, err)
		}
		return text, nil
	}
	return nil, fmt.Errorf("%w %.200s", errAbsent, name)
}

// plainPath brings a path inside a compressed file into one form.
func plainPath(name string) string {
	return strings.TrimPrefix(path.Clean(strings.ReplaceAll(name, `\`, "/")), "/")
}

// swelling reads a compressed member and stops where it grows out of proportion.
type swelling struct {
	in           io.Reader
	packed, read int64
}

func (s *swelling) Read(p []byte) (int, error) {
	n, err := s.in.Read(p)
	if s.read += int64(n); s.read > freeRatio && s.read/maxRatio > s.packed {
		return n, fmt.Errorf("it is more than %d times as long as its compressed form", maxRatio)
	}
	return n, err
}

func readAll(r io.Reader, limit int64) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, err
	}
	if int64(len(text)) > limit {
		return nil, fmt.Errorf("it is longer than %d MB", limit>>20)
	}
	return text, nil
}

// decoder takes apart a text in any encoding that is known.
func decoder(text []byte) *xml.Decoder {
	return guarded(&guard{Reader: bytes.NewReader(inUTF8(text))})
}

func guarded(g *guard) *xml.Decoder {
	d := xml.NewDecoder(g)
	d.CharsetReader = charset
	return d
}
