package idiom

import (
	"bytes"
	"embed"
	"fmt"
	"sync"
)

//go:embed *.txt
var files embed.FS

// shipped reads each of the shipped idioms once.
var shipped = map[string]func() (*Idiom, error){
	"march": sync.OnceValues(func() (*Idiom, error) { return readShipped("march.txt") }),
	"song":  sync.OnceValues(func() (*Idiom, error) { return readShipped("song.txt") }),
}

// Shipped reports what the program was shipped with: "march" or "song". It is shared, and
// must not be changed.
func Shipped(name string) (*Idiom, error) {
	read, ok := shipped[name]
	if !ok {
		return nil, fmt.Errorf("idiom %q is not march or song", name)
	}
	return read()
}

func readShipped(name string) (*Idiom, error) {
	text, err := files.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return Read(bytes.NewReader(text), name)
}
