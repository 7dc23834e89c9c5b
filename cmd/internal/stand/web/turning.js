// When and where the page turns. Pure. Times are milliseconds from the start of the take.

/**
 * lookAhead is how long before the end of a page the eye leaves it: eyes are about a second
 * ahead of the fingers, 0.7 to 1.3 s from player to player (Furneaux & Land 1999).
 */
export const lookAhead = 1000
export const earliest = 1800, latest = 500 // a rest or long note may move the turn so far

/**
 * turnAt reports when to turn the page behind its last measure, which lasts from..to. A rest
 * or a long note in which to look up is taken where one lies near a second before the end;
 * else it is a second. looks lists rests and long notes as {at, length}. The measure itself
 * has always begun.
 */
export function turnAt(from, to, looks) {
  let best = Math.max(from, to - lookAhead), off = Infinity
  for (const l of looks) {
    const earliestHere = Math.max(from, l.at, to - earliest), latestHere = Math.min(l.at + l.length / 2, to - latest)
    if (earliestHere > latestHere) continue
    const at = Math.min(Math.max(to - lookAhead, earliestHere), latestHere)
    if (Math.abs(to - lookAhead - at) < off) {
      off = Math.abs(to - lookAhead - at)
      best = at
    }
  }
  return best
}

/**
 * turns lists the turns of a take as {at, leaf}, the first at the start: spans as played,
 * leafOf a measure's page, looksOf(span) the rests and long notes in it.
 */
export function turns(spans, leafOf, looksOf) {
  const list = []
  spans.forEach((span, i) => {
    const leaf = leafOf(span.measure)
    if (i === 0) list.push({ at: -Infinity, leaf })
    else if (leaf !== leafOf(spans[i - 1].measure)) {
      const before = spans[i - 1]
      list.push({ at: turnAt(before.from, before.to, looksOf(before)), leaf })
    }
  })
  return list
}

/** leafAt reports the page that lies open at a time, and since when. */
export function leafAt(list, time) {
  let open = { at: -Infinity, leaf: 0 }
  for (const t of list) if (t.at <= time) open = t
  return open
}

/**
 * leaves shares lines of music out to pages: heights of the lines, one below the other, the
 * room of a page, for each line how hard it is to look up at its end, 0 to 1, and which lines
 * are repeated, as [first, last]. It reports the index of each page's first line. No line is
 * cut: one higher than the room has a page of its own. As few turns as can be, there and back
 * in repeats; among those, breaks where it is easy to look up, and pages about equally full.
 */
export function leaves(heights, room, hard, repeats = []) {
  const n = heights.length
  const crossing = k => repeats.filter(([first, last]) => first < k && k <= last).length // of a break ahead of line k
  const best = new Array(n + 1).fill(null) // from line i on: {cost, next}
  best[n] = { cost: 0, next: n }
  for (let i = n - 1; i >= 0; i--) {
    let filled = 0
    for (let k = i + 1; k <= n; k++) {
      filled += heights[k - 1]
      if (filled > room && k > i + 1) break
      const empty = Math.max(0, 1 - filled / room)
      const turn = k < n ? perTurn * (1 + 2 * crossing(k)) + 0.3 * hard[k - 1] : 0
      const cost = best[k].cost + empty * empty + turn
      if (!best[i] || cost < best[i].cost) best[i] = { cost, next: k }
    }
  }
  const first = []
  for (let i = 0; i < n; i = best[i].next) first.push(i)
  return first
}

const perTurn = 3 // what a turn costs, beside a page left empty, 1

/**
 * largerBy reports how much larger music may be that fills a share of its only page; 1 where
 * it fills most of it, or has more pages. Lines are shorter and higher then, so the room it
 * takes grows by the square.
 */
export function largerBy(pages, fill) {
  if (pages !== 1 || !(fill > 0) || fill > 0.6) return 1
  return Math.min(1.7, Math.sqrt(0.85 / fill))
}

/** hardness reports how hard it is to look up at the end of a measure, from its rests and notes in order. */
export function hardness(events, beat) {
  const last = events[events.length - 1]
  if (!last) return 0
  if (last.rest) return last.length >= beat ? 0 : 0.3
  return last.length >= 2 * beat ? 0.1 : last.length >= beat ? 0.5 : 1
}
