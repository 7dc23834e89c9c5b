package synth

import "math"

// A room is the hall in which the band plays: four delay lines that feed each other
// by a Householder matrix, which loses nothing, so that the damping alone says how
// long sound lasts (Jot & Chaigne 1991, from memory). It costs a fifth of the
// synthesizer's own reverberation and is the same for every channel.
type room struct {
	lines [4][]float32
	at    [4]int
	dull  [4]float32 // state of each line's low-pass
	keep  [4]float32 // what a line gives back, for the decay
	low   float32    // state of the high-pass before the lines
}

const (
	roomSeconds = 1.1  // to fall by 60 dB
	roomSend    = 0.22 // share of the sound that goes into the room
	roomDamp    = 0.35 // 0 keeps the treble, 1 takes all
	roomLow     = 0.02 // corner of the high-pass: about 140 Hz, so that basses stay clear
)

// roomLengths are the lines' delays in seconds, without common periods.
var roomLengths = [4]float64{0.0297, 0.0371, 0.0411, 0.0437}

func newRoom(rate int) *room {
	r := new(room)
	for i, seconds := range roomLengths {
		r.lines[i] = make([]float32, int(seconds*float64(rate)))
		r.keep[i] = float32(math.Pow(10, -3*seconds/roomSeconds))
	}
	return r
}

// add adds the room's answer to a block.
func (r *room) add(left, right *[blockSize]float32) {
	// A trace of direct current keeps the fading tail out of the slow range of
	// numbers next to zero; it is 300 dB down.
	const trace = 1e-15
	for i := range left {
		in := (left[i] + right[i]) * 0.5
		r.low += roomLow * (in - r.low)
		in = (in-r.low)*roomSend + trace
		var out [4]float32
		for j := range out {
			v := r.lines[j][r.at[j]]
			r.dull[j] += (1 - roomDamp) * (v - r.dull[j])
			out[j] = r.dull[j] * r.keep[j]
		}
		half := (out[0] + out[1] + out[2] + out[3]) * 0.5
		for j := range out {
			r.lines[j][r.at[j]] = out[j] - half + in
			if r.at[j]++; r.at[j] == len(r.lines[j]) {
				r.at[j] = 0
			}
		}
		left[i] += out[0] - out[2]
		right[i] += out[1] - out[3]
	}
}
