package musicxml

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"

	"onward/compose/score"
)

// Limits on what is read; a file beyond them is refused.
const (
	maxSize      = 64 << 20 // bytes, decompressed
	maxContainer = 1 << 20  // bytes of a compressed file's table of contents
	maxDepth     = 64       // elements inside elements
	maxMeasures  = 10_000   // in a part
	maxParts     = 400
)

// ReadFile reads a MusicXML file of any suffix: plain XML, or the compressed form
// (.mxl), which is known by its first bytes. name stands in warnings and errors; size
// is the file's length in bytes. See Read.
func ReadFile(name string, r io.ReaderAt, size int64) (*score.Score, []Warning, error) {
	s, warnings, err := readFile(r, size)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	for i := range warnings {
		warnings[i].File = name
	}
	return s, warnings, nil
}

func readFile(r io.ReaderAt, size int64) (*score.Score, []Warning, error) {
	text, err := textOfFile(r, size)
	if err != nil {
		return nil, nil, err
	}
	return read(text)
}

// textOfFile reports the score's text in a plain or compressed file.
func textOfFile(r io.ReaderAt, size int64) ([]byte, error) {
	magic := make([]byte, 4)
	if n, _ := r.ReadAt(magic, 0); n == len(magic) && string(magic) == "PK\x03\x04" {
		return unpack(r, size)
	}
	return readAll(io.NewSectionReader(r, 0, size), maxSize)
}

// unpack reports the score's text inside a compressed file.
func unpack(r io.ReaderAt, size int64) ([]byte, error) {
	archive, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("the compressed file is damaged: %w", err)
	}
	contents, err := member(archive, "META-INF/container.xml", maxContainer)
	if err != nil {
		return nil, err
	}
	var container struct {
		Files []struct {
			Path string `xml:"full-path,attr"`
			Type string `xml:"media-type,attr"`
		} `xml:"rootfiles>rootfile"`
	}
	if err := xml.Unmarshal(contents, &container); err != nil {
		return nil, fmt.Errorf("META-INF/container.xml: %w", err)
	}
	for _, f := range container.Files {
		if f.Type == "" || strings.Contains(f.Type, "musicxml") {
			return member(archive, f.Path, maxSize)
		}
	}
	return nil, fmt.Errorf("META-INF/container.xml names no score")
}

func member(archive *zip.Reader, path string, limit int64) ([]byte, error) {
	for _, f := range archive.File {
		if f.Name != path {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s in the compressed file: %w", path, err)
		}
		defer r.Close()
		text, err := readAll(r, limit)
		if err != nil {
			return nil, fmt.Errorf("%s in the compressed file: %w", path, err)
		}
		return text, nil
	}
	return nil, fmt.Errorf("the compressed file holds no %s", path)
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

// inUTF8 reports the text in UTF-8 without its byte order mark. UTF-16 is known by
// its mark, or by the zero byte beside the first "<".
func inUTF8(text []byte) []byte {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(text, []byte("\xef\xbb\xbf")):
		return text[3:]
	case bytes.HasPrefix(text, []byte("\xff\xfe")), bytes.HasPrefix(text, []byte("<\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(text, []byte("\xfe\xff")), bytes.HasPrefix(text, []byte("\x00<")):
		order = binary.BigEndian
	default:
		return text
	}
	units := make([]uint16, len(text)/2)
	for i := range units {
		units[i] = order.Uint16(text[2*i:])
	}
	if len(units) > 0 && units[0] == 0xfeff {
		units = units[1:]
	}
	return []byte(string(utf16.Decode(units)))
}

// charset reads the encodings that a prolog may name. UTF-16 is UTF-8 by now.
func charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "utf8", "us-ascii", "ascii", "utf-16", "utf-16le", "utf-16be":
		return in, nil
	case "iso-8859-1", "latin1":
		return &latin1{in: in}, nil
	}
	return nil, fmt.Errorf("the encoding %q is not known; save the file as UTF-8", label)
}

// latin1 turns ISO 8859-1 into UTF-8.
type latin1 struct {
	in   io.Reader
	left []byte
}

func (l *latin1) Read(p []byte) (int, error) {
	if len(l.left) == 0 {
		raw := make([]byte, 4096)
		n, err := l.in.Read(raw)
		if n == 0 {
			return 0, err
		}
		for _, b := range raw[:n] {
			l.left = append(l.left, string(rune(b))...)
		}
	}
	n := copy(p, l.left)
	l.left = l.left[n:]
	return n, nil
}
