package idiom

import (
	_ "embed"
	"encoding/binary"
	"slices"
	"sync"
)

// RunLength is how many notes in a row no read may share with a tune that was learned from.
const RunLength = 9

// A RunSet holds the hashes of all runs of RunLength notes of the tunes that were learned
// from, so that none of them returns. No run can be told from it. One run in some thirty
// thousand that is in no tune is taken for one that is.
type RunSet []uint32 // ascending

// RunHash reports the hash of a run: the intervals between its notes in semitones and the
// times from start to start, in ticks. It is the same in every key.
func RunHash(semitones []int8, gaps []int64) uint32 {
	h := uint64(14695981039346656037) // FNV-1a, 64 bit
	for i := range semitones {
		h = (h ^ uint64(uint8(semitones[i]))) * 1099511628211
		h = (h ^ uint64(gaps[i])) * 1099511628211
	}
	return uint32(h ^ h>>32)
}

// Has reports whether the set has the run.
func (s RunSet) Has(semitones []int8, gaps []int64) bool {
	_, found := slices.BinarySearch(s, RunHash(semitones, gaps))
	return found
}

// Add adds all runs of a line of notes, given as MIDI numbers and starts in ticks.
func (s RunSet) Add(midi []int, at []int64) RunSet {
	for i := 0; i+RunLength <= len(midi); i++ {
		var semitones [RunLength - 1]int8
		var gaps [RunLength - 1]int64
		for k := range semitones {
			semitones[k], gaps[k] = int8(midi[i+k+1]-midi[i+k]), at[i+k+1]-at[i+k]
		}
		s = append(s, RunHash(semitones[:], gaps[:]))
	}
	return s
}

// Bytes writes the set: the gaps from hash to hash, ascending, as unsigned varints.
func (s RunSet) Bytes() []byte {
	s = slices.Clone(s)
	slices.Sort(s)
	var out []byte
	last := uint32(0)
	for _, h := range slices.Compact(s) {
		out = binary.AppendUvarint(out, uint64(h-last))
		last = h
	}
	return out
}

// readRuns reads what Bytes writes.
func readRuns(b []byte) RunSet {
	var s RunSet
	last := uint32(0)
	for len(b) > 0 {
		gap, n := binary.Uvarint(b)
		if n <= 0 {
			panic("idiom: runs.bin is damaged") // it is part of the program
		}
		last += uint32(gap)
		s, b = append(s, last), b[n:]
	}
	return s
}

//go:embed runs.bin
var runsFile []byte

// Runs reports the runs of all tunes that the shipped idioms were learned from. It is shared,
// and must not be changed.
var Runs = sync.OnceValue(func() RunSet { return readRuns(runsFile) })
