package musicxml

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
)

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

var errToken = errors.New("long token")

// A guard hands the decoder its bytes one by one, and stops it inside a tag, text or
// comment that is longer than maxToken, before that has filled the memory.
type guard struct {
	*bytes.Reader
	run int // bytes since the last token
}

func (g *guard) ReadByte() (byte, error) {
	if g.run++; g.run > maxToken {
		return 0, errToken
	}
	return g.Reader.ReadByte()
}

// charset reads the encodings that a prolog may name. UTF-16 is UTF-8 by now.
func charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "utf8", "us-ascii", "ascii", "utf-16", "utf-16le", "utf-16be":
		return in, nil
	case "iso-8859-1", "iso_8859-1", "iso8859-1", "latin1", "latin-1":
		return &latin1{in: in.(io.ByteReader)}, nil
	}
	return nil, fmt.Errorf("the encoding %.40q is not known; save the file as UTF-8", label)
}

// latin1 turns ISO 8859-1 into UTF-8.
type latin1 struct {
	in   io.ByteReader
	next byte // the second byte of a character, 0 for none
}

func (l *latin1) ReadByte() (byte, error) {
	if b := l.next; b != 0 {
		l.next = 0
		return b, nil
	}
	b, err := l.in.ReadByte()
	if err == nil && b >= 0x80 {
		text := string(rune(b))
		b, l.next = text[0], text[1]
	}
	return b, err
}

func (l *latin1) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if p[n], err = l.ReadByte(); err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}
