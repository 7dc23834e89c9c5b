// The session's clock, as this page knows it. Pure but for synchronize, which is given how
// to ask and what time it is here. Times are milliseconds.

/** drift is how far two clocks may part, in milliseconds each millisecond: 100 ppm. */
export const drift = 1e-4

/**
 * sampleOf makes a sample of one round trip: asked and answered here, told there between the
 * two. Its error is at most half of the delay.
 */
export function sampleOf(asked, told, answered) {
  return { offset: told - (asked + answered) / 2, delay: answered - asked, at: answered }
}

/** bound is how far off a sample may be by now. */
export function bound(sample, here) { return sample.delay / 2 + (here - sample.at) * drift }

/** better reports which of two samples is to be trusted at a time here; either may be null. */
export function better(a, b, here) {
  if (!a || !b) return a ?? b
  return bound(b, here) <= bound(a, here) ? b : a
}

/** A SharedClock tells the session's time. here is this page's clock, wall the time of day. */
export class SharedClock {
  constructor(here, wall) {
    this.here = here
    this.wall = wall
    this.sample = null
    this.parted = wall() - here()
  }

  /** known says that the session's time is known. */
  get known() { return this.sample !== null && !this.slept() }

  /** now is the session's time; NaN while it is not known at all. */
  now() { return this.sample ? this.here() + this.sample.offset : NaN }

  /** error is how far now may be off. */
  error() { return this.sample ? bound(this.sample, this.here()) : Infinity }

  /**
   * slept reports whether this page's clock has stood still or the time of day was set since
   * the last sample: then that counts no more.
   */
  slept() { return Math.abs(this.wall() - this.here() - this.parted) > 30 }

  /** add takes a sample; one before a sleep is forgotten. */
  add(sample) {
    if (this.slept()) {
      this.sample = null
      this.parted = this.wall() - this.here()
    }
    this.sample = better(this.sample, sample, this.here())
  }

  /** synchronize makes round trips by ask, which reports the session's time, and keeps the best. */
  async synchronize(ask, trips) {
    for (let i = 0; i < trips; i++) {
      const asked = this.here()
      const told = await ask()
      this.add(sampleOf(asked, told, this.here()))
    }
  }
}
