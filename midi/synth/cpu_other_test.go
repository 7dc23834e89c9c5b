//go:build !unix

package synth

import "time"

var began = time.Now()

// cpuTime stands for the processor's time where that is not known: it is the clock's.
func cpuTime() time.Duration { return time.Since(began) }
