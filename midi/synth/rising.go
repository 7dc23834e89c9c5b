package synth

import "math"

// The stages of a note's envelope, in order.
const (
	delaying = iota
	attacking
	holding
	decaying
	releasing
)

// inaudible is the level, 60 dB down, under which a voice has ended.
const inaudible = 1e-3

// A rising is an envelope under way: it waits, rises, holds, falls to its sustained
// level, and, once released, to nothing. That of the volume falls as sound does, by so
// many decibels a second; that of the filter and pitch falls evenly.
type rising struct {
	even               bool
	stage              int
	at                 float64 // seconds since the note began
	attackAt           float64 // seconds at which each stage begins
	holdAt, decayAt    float64
	attack, fall, quit float64 // seconds
	sustain, value     float64
	from, releaseAt    float64 // of the release: level and time at its begin
	fallStep, quitStep float64 // of the volume: factor by which a block falls
	inFall             bool    // a block of this fall is past
}

// fullFall is how far a fall goes in its nominal time: 9.226 natural units are 80 dB.
const fullFall = 9.226

// begin starts the envelope; block is the length of a whole block in seconds.
func (e *rising) begin(s stages, even bool, block float64) {
	*e = rising{even: even, attackAt: s.delay, holdAt: s.delay + s.attack, decayAt: s.delay + s.attack + s.hold,
		attack: s.attack, fall: s.decay, quit: s.release, sustain: min(max(s.sustain, 0), 1)}
	if !even {
		e.fallStep, e.quitStep = math.Exp(-fullFall*block/s.decay), math.Exp(-fullFall*block/s.release)
	}
	e.step(0)
}

// release lets the envelope fall to nothing from where it is.
func (e *rising) release() {
	e.stage, e.from, e.releaseAt, e.inFall = releasing, e.value, e.at, false
}

// step goes on by so many seconds, a block, and reports whether anything is to be heard.
func (e *rising) step(seconds float64) bool {
	e.at += seconds
	for e.stage < decaying && e.at >= [...]float64{e.attackAt, e.holdAt, e.decayAt}[e.stage] {
		e.stage++
	}
	switch e.stage {
	case delaying:
		e.value = 0
		return true
	case attacking:
		e.value = (e.at - e.attackAt) / e.attack
		return true
	case holding:
		e.value = 1
		return true
	case decaying:
		return e.decay()
	}
	return e.die()
}

func (e *rising) decay() bool {
	switch {
	case e.inFall && e.value == e.sustain:
	case e.even:
		e.value = max((e.decayAt+e.fall-e.at)/e.fall, e.sustain)
	case e.inFall:
		e.value = max(e.value*e.fallStep, e.sustain)
	default:
		e.value = max(math.Exp(-fullFall*(e.at-e.decayAt)/e.fall), e.sustain)
	}
	e.inFall = true
	return e.value > inaudible
}

func (e *rising) die() bool {
	switch {
	case e.even:
		e.value = max(e.from*(e.releaseAt+e.quit-e.at)/e.quit, 0)
	case e.inFall:
		e.value *= e.quitStep
	default:
		e.value = e.from * math.Exp(-fullFall*(e.at-e.releaseAt)/e.quit)
	}
	e.inFall = true
	return e.value > inaudible
}
