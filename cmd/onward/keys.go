package main

import (
	"errors"
	"os"
	"time"

	"golang.org/x/term"
)

// A key is a key that was pressed.
type key struct {
	char byte
	at   time.Time
}

// errNoTerminal is the error of keys where nobody can press any.
var errNoTerminal = errors.New("standard input is no terminal, so no key can be read: run it in a terminal window")

// taps reports whether the key is one to tap with.
func (k key) taps() bool { return k.char == ' ' || k.char == '\r' || k.char == '\n' }

// leaves reports whether the key asks to leave: q, or Ctrl-C, which comes as a key.
func (k key) leaves() bool { return k.char == 'q' || k.char == 3 }

// terminalKeys reads this machine's terminal.
func terminalKeys() (<-chan key, func(), error) {
	in := int(os.Stdin.Fd())
	if !term.IsTerminal(in) {
		return nil, nil, errNoTerminal
	}
	before, err := term.MakeRaw(in)
	if err != nil {
		return nil, nil, err
	}
	pressed := make(chan key, 64)
	go func() {
		var chars [16]byte
		for {
			n, err := os.Stdin.Read(chars[:])
			at := time.Now()
			if err != nil {
				return
			}
			for _, c := range chars[:n] {
				pressed <- key{c, at}
			}
		}
	}()
	return pressed, func() { term.Restore(in, before) }, nil
}
