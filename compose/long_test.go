package compose_test

import "os"

// long reports whether the tests that take minutes are asked for.
func long() bool { return os.Getenv("ONWARD_LONG") != "" }
