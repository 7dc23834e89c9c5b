// How lines of music share sheets of paper. Pure. A line is {up, down}: how far it reaches
// above and below the top of its staff. All lengths are in one unit.

/** distances lists how far each line's staff lies below the one before, at least; the first 0. */
export function distances(lines, { gap, pitch }) {
  return lines.map((line, i) => i === 0 ? 0 : Math.max(pitch, lines[i - 1].down + gap + line.up))
}

/** heightOf is the room that lines from..to-1 need on one sheet. */
export function heightOf(lines, apart, from, to) {
  let height = lines[from].up + lines[to - 1].down
  for (let i = from + 1; i < to; i++) height += apart[i]
  return height
}

/**
 * share shares lines out to sheets, as few as can be, and reports the index of each sheet's
 * first line. room(sheet) is a sheet's room; hard says for each line how hard it is to turn
 * after it, 0 to 1. No line stands alone on a sheet where that can be helped; otherwise sheets
 * are about equally full and turn where it is easy. A line higher than a sheet has one of its own.
 */
export function share(lines, apart, room, hard = []) {
  const n = lines.length
  const known = new Map()
  // best reports the cheapest way to lay lines i.. on sheets sheet..: {sheets, cost, next}.
  const best = (i, sheet) => {
    if (i === n) return { sheets: 0, cost: 0 }
    const key = i * 1000 + sheet
    if (known.has(key)) return known.get(key)
    let found = null
    for (let k = i + 1; k <= n; k++) {
      const height = heightOf(lines, apart, i, k)
      if (height > room(sheet) && k > i + 1) break
      const rest = best(k, sheet + 1)
      const empty = Math.max(0, 1 - height / room(sheet))
      const cost = rest.cost + empty * empty + (k === i + 1 && n > 1 ? alone : 0) + (k < n ? turn * (hard[k - 1] ?? 0) : 0)
      const sheets = rest.sheets + 1
      if (!found || sheets < found.sheets || sheets === found.sheets && cost < found.cost) found = { sheets, cost, next: k }
    }
    known.set(key, found)
    return found
  }
  const first = []
  for (let i = 0; i < n; i = best(i, first.length - 1).next) first.push(i)
  return first
}

const alone = 10 // what a line alone on a sheet costs, beside an empty sheet, 1
const turn = 0.2 // a turn where there is no rest

/**
 * place lists where the tops of the staves of lines from..to-1 lie below the top of the room.
 * What is left of the room goes between the lines, up to most for each.
 */
export function place(lines, apart, from, to, room, most) {
  const spare = Math.max(0, room - heightOf(lines, apart, from, to))
  const extra = to - from > 1 ? Math.min(most, spare / (to - from - 1)) : 0
  const tops = [lines[from].up]
  for (let i = from + 1; i < to; i++) tops.push(tops[tops.length - 1] + apart[i] + extra)
  return { tops, extra }
}
