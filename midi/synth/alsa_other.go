//go:build cgo && !linux

package synth

// quieten has nothing to do here: only Linux's sound library writes on the terminal.
func quieten() {}
