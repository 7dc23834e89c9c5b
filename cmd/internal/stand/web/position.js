// Where a take is. Pure: beats and times come in, places go out. Times are milliseconds
// from the start of the take; beats are the server's, in order of time.

/** beatAt reports the index of the beat that sounds at a time, -1 ahead of the first. */
export function beatAt(beats, time) {
  let low = 0, high = beats.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (beats[middle].at <= time) low = middle + 1
    else high = middle
  }
  return low - 1
}

/**
 * spans lists the measures as they are played: {measure, from, to, beats: [{at, share}]},
 * where share is how much of the measure lies before the beat, 0 to 1. The count-in has
 * none. end is that of the take.
 */
export function spans(beats, end) {
  const list = []
  let last
  for (const b of beats) {
    if (b.measure >= 0) {
      const same = last && last.measure === b.measure && last.pass === b.pass && b.beat > last.beat
      if (!same) list.push({ measure: b.measure, from: b.at, to: end, beats: [], first: b.beat, of: b.of })
      const span = list[list.length - 1]
      span.beats.push({ at: b.at, share: (b.beat - span.first) / (b.of - span.first + 1) })
    }
    last = b
  }
  for (let i = 0; i + 1 < list.length; i++) list[i].to = list[i + 1].from
  return list
}

/** spanAt reports the index of the span that a time lies in, -1 before and after all. */
export function spanAt(list, time) {
  const i = beatAt(list.map(s => ({ at: s.from })), time)
  return i >= 0 && time < list[i].to ? i : -1
}

/**
 * shareOf reports how much of a span is past at a time, 0 to 1: evenly from beat to beat,
 * so that it follows a tempo that bends.
 */
export function shareOf(span, time) {
  const i = beatAt(span.beats, time)
  if (i < 0) return 0
  const here = span.beats[i], next = span.beats[i + 1] ?? { at: span.to, share: 1 }
  const whole = next.at - here.at
  const part = whole > 0 ? Math.min(1, (time - here.at) / whole) : 1
  return here.share + (next.share - here.share) * part
}

/**
 * countAt reports what is counted at a time: {number, beat, of, last} in the count-in,
 * whose number is 0 under the tonic chord; last says that the piece begins after this
 * measure. null once the piece has begun.
 */
export function countAt(beats, time) {
  const i = Math.max(0, beatAt(beats, time))
  const b = beats[i]
  if (!b || b.measure >= 0) return null
  let next = i
  while (next < beats.length && beats[next].measure < 0 && beats[next].number === b.number) next++
  return { number: b.number, beat: b.beat, of: b.of, last: next < beats.length && beats[next].measure >= 0 }
}

/** hiddenAt reports which measures the server's changes have covered by a time. */
export function hiddenAt(changes, time) {
  const hidden = new Set()
  for (const c of changes) {
    if (c.at > time) break
    for (const m of c.hide) hidden.add(m)
    for (const m of c.show) hidden.delete(m)
  }
  return hidden
}
