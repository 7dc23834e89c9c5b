package journal

import "math"

// A Past is the journal's reads up to a certain one: what there was to keep clear of when
// that one was made. It asks the journal each time, so it holds as long as that is open.
type Past struct {
	journal *Journal
	before  int64 // IDs of the past are less
}

// All reports all reads as a past.
func (j *Journal) All() Past { return Past{j, math.MaxInt64} }

// Before reports the reads that were added before the one of the ID given, which need not
// be in the journal.
func (j *Journal) Before(id int64) Past { return Past{j, id} }
