package compose_test

import "os"

// long reports whether the tests that take minutes are asked for.
func long() bool { return os.Getenv("ONWARD_LONG") != "" }

// reads reports how many reads a test makes that wants so many at length: a third of
// them where the long tests are not asked for.
func reads(n int) int {
	if long() {
		return n
	}
	return n / 3
}
