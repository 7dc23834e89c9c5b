// Package synth makes the band sound: it finds or makes a sound font, renders a
// timeline to a WAV file, and plays messages through the loudspeaker.
//
// The built-in sound font is synthesized by this package, in memory, from the tables
// in tones.go, struck.go and kit.go. Both ways of sounding share one engine (engine.go),
// which works in blocks of 64 samples (1.5 ms) and begins each note on its own sample;
// its voices (voice.go) are tested against another synthesizer's.
package synth
