package synth

import "math"

// A room is the hall in which the band plays: what is heard twice over in the first
// hundredth of a second, made dense by two all-pass delays (Schroeder 1962, from memory),
// then four delay lines that feed each other by a Householder matrix, which loses
// nothing, so that the damping alone says how long sound lasts (Jot & Chaigne 1991, from
// memory). It costs little and is the same for every channel.
type room struct {
	dense [2]line
	lines [4]line
	dull  [4]float32 // state of each line's low-pass
	keep  [4]float32 // what a line gives back, for the decay
	low   float32    // state of the high-pass before the lines
}

// A line is a delay.
type line struct {
	past []float32
	at   int
}

const (
	roomSeconds = 1.1  // to fall by 60 dB
	roomSend    = 0.22 // share of the sound that goes into the room
	roomDamp    = 0.35 // 0 keeps the treble, 1 takes all
	roomLow     = 0.02 // corner of the high-pass: about 140 Hz, so that basses stay clear
	roomDense   = 0.6  // of the all-pass delays; more smears longer
)

// roomLengths and denseLengths are the delays in seconds, without common periods.
var (
	roomLengths  = [4]float64{0.0297, 0.0371, 0.0411, 0.0437}
	denseLengths = [2]float64{0.0047, 0.0083}
)

func newRoom(rate int) *room {
	r := new(room)
	for i, seconds := range roomLengths {
		r.lines[i].past = make([]float32, int(seconds*float64(rate)))
		r.keep[i] = float32(math.Pow(10, -3*seconds/roomSeconds))
	}
	for i, seconds := range denseLengths {
		r.dense[i].past = make([]float32, int(seconds*float64(rate)))
	}
	return r
}

// next reports how many frames, of n at most, can be taken before the line begins
// again.
func (l *line) next(n int) int { return min(n, len(l.past)-l.at) }

// move goes on by n frames.
func (l *line) move(n int) {
	if l.at += n; l.at == len(l.past) {
		l.at = 0
	}
}

// add adds the room's answer to a block.
func (r *room) add(left, right *[blockSize]float32) {
	var in [blockSize]float32
	// A trace of direct current keeps the fading tail out of the slow range of
	// numbers next to zero; it is 300 dB down.
	const trace = 1e-15
	low := r.low
	for i := range in {
		v := (left[i] + right[i]) * 0.5
		low += roomLow * (v - low)
		in[i] = (v-low)*roomSend + trace
	}
	r.low = low
	for i := range r.dense {
		r.dense[i].blur(in[:])
	}
	for from := 0; from < blockSize; {
		n := blockSize - from
		for i := range r.lines {
			n = r.lines[i].next(n)
		}
		r.swirl(in[from:from+n], left[from:], right[from:])
		for i := range r.lines {
			r.lines[i].move(n)
		}
		from += n
	}
}

// blur puts x through the line as an all-pass.
func (l *line) blur(x []float32) {
	for len(x) > 0 {
		n := l.next(len(x))
		past := l.past[l.at:][:n]
		for i, v := range x[:n] {
			w := v - roomDense*past[i]
			x[i] = past[i] + roomDense*w
			past[i] = w
		}
		l.move(n)
		x = x[n:]
	}
}

// swirl puts in through the four lines, none of which ends within it, and adds what
// comes out to both sides.
func (r *room) swirl(in, left, right []float32) {
	a, b, c, d := r.lines[0].here(in), r.lines[1].here(in), r.lines[2].here(in), r.lines[3].here(in)
	da, db, dc, dd := r.dull[0], r.dull[1], r.dull[2], r.dull[3]
	ka, kb, kc, kd := r.keep[0], r.keep[1], r.keep[2], r.keep[3]
	left, right = left[:len(in)], right[:len(in)]
	for i, v := range in {
		da += (1 - roomDamp) * (a[i] - da)
		db += (1 - roomDamp) * (b[i] - db)
		dc += (1 - roomDamp) * (c[i] - dc)
		dd += (1 - roomDamp) * (d[i] - dd)
		oa, ob, oc, od := da*ka, db*kb, dc*kc, dd*kd
		v -= (oa + ob + oc + od) * 0.5
		a[i], b[i], c[i], d[i] = oa+v, ob+v, oc+v, od+v
		left[i] += oa - oc
		right[i] += ob - od
	}
	r.dull = [4]float32{da, db, dc, dd}
}

// here reports the line's next samples, as many as x has.
func (l *line) here(x []float32) []float32 { return l.past[l.at:][:len(x)] }
