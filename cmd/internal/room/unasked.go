package room

import "onward/cmd/internal/room/unasked"

func init() { unasked.Restore() }
