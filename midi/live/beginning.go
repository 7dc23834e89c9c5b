package live

import (
	"fmt"
	"time"
)

// A beginning is when a take starts: its deadline zero.
type beginning struct {
	boot   time.Duration // on the take's clock
	common bool          // boot means the same to other programs
	wall   time.Time     // by the time of day, as it was set then
}

// beginningOn lets a take start Lead from now on c.
func beginningOn(c Clock) beginning {
	_, common := c.(Common)
	return beginning{boot: c.Now() + Lead, common: common, wall: time.Now().Add(Lead)}
}

// line is what the take's process tells of it: the word, the time on the common clock in
// nanoseconds, 0 where there is none, and nanoseconds since 1970.
func (b beginning) line() string {
	boot := b.boot
	if !b.common {
		boot = 0
	}
	return fmt.Sprintf("%s %d %d", tellBegins, int64(boot), b.wall.UnixNano())
}

// parseBeginning reads what follows the word in such a line.
func parseBeginning(rest string) (b beginning, err error) {
	var boot, wall int64
	if _, err := fmt.Sscanf(rest, "%d %d", &boot, &wall); err != nil {
		return b, fmt.Errorf("take: the player began with %q: %w", rest, err)
	}
	return beginning{boot: time.Duration(boot), common: boot != 0, wall: time.Unix(0, wall)}, nil
}
