// The sheet: the engraved music, shared out to pages that fit the screen, and what is laid
// over its measures.
import { drawingOf, unitsPerStaff } from './engraving.js'
import { hardness, leaves } from './turning.js'

const space = 'http://www.w3.org/2000/svg'
const signs = 'tspan[font-family="Leipzig"]'
/** left is what the engraver leaves free beside the lines, in the drawing's units. */
export const left = 360
const margin = 0.2 // of a staff, around and between lines

/** staffFor is the height of a staff in pixels for a screen; size is the player's wish, 1 by itself. */
export function staffFor(width, height, size) {
  return Math.min(84, Math.max(36, Math.sqrt(width * height) / 17)) * size
}

/** A Sheet shows pages of music in an element, which it fills. */
export class Sheet {
  constructor(element) {
    this.element = element
    this.forget()
  }

  clear() {
    this.element.replaceChildren()
    this.forget()
  }

  forget() {
    this.over = document.createElement('div')
    this.over.className = 'over'
    this.measures = [] // {line, leaf, x, y, width, height, points, events, length}
    this.first = [] // the first line of each page
    this.leaf = -1
    this.laid = '' // which page, for which screen
    this.warnings = []
  }

  get count() { return this.first.length }

  /** unitsWide is how wide a screen of so many pixels is, in the engraver's units. */
  unitsWide(width, height, size) { return width * unitsPerStaff / staffFor(width, height, size) }

  /**
   * lay lays what the engraver made of music, page count of the practice, for such a screen,
   * if that is current() still.
   */
  async lay(made, music, width, height, size, count, current) {
    const scale = unitsPerStaff / staffFor(width, height, size) // units to the pixel
    const { defs, music: drawn } = await drawingOf(made)
    if (!current()) return
    this.clear()
    this.warnings = made.warnings
    this.svg = document.createElementNS(space, 'svg')
    this.svg.setAttribute('class', 'score engraved')
    this.svg.setAttribute('preserveAspectRatio', 'xMidYMin meet')
    this.svg.setAttribute('aria-hidden', 'true')
    drawn.removeAttribute('transform')
    this.svg.append(defs, drawn)
    this.element.append(this.svg, this.over)
    this.unit = 10 // the drawing's units to the engraver's
    this.wide = width * scale * this.unit
    this.room = height * scale * this.unit
    this.staff = unitsPerStaff * this.unit
    this.measureAll(made.measures)
    this.share(repeats(music))
    this.show(0)
    this.laid = `${count} ${width} ${height}`
  }

  // measureAll finds where the lines and measures are. Everything must be shown for it.
  measureAll(rhythm) {
    this.svg.setAttribute('viewBox', `${-left} 0 ${this.wide} ${this.room}`)
    this.systems = [...this.svg.querySelectorAll('g.system')]
    this.svg.classList.add('measuring') // without signs in text: their font claims far more room than it fills
    this.lines = this.systems.map(s => {
      const b = s.getBBox()
      this.wide = Math.max(this.wide, left + b.x + b.width) // words may reach out of the last measure
      return { top: b.y - (s.querySelector(signs) ? 0.35 * this.staff : 0), bottom: b.y + b.height }
    })
    this.svg.classList.remove('measuring')
    const byId = new Map(rhythm.map(m => [m.id, m]))
    this.systems.forEach((system, line) => {
      for (const g of system.querySelectorAll('g.measure')) {
        const lines = g.querySelector('g.staff').querySelector('path').getBBox()
        const m = byId.get(g.id) ?? { events: [], length: 0 }
        this.measures.push({ line, x: lines.x, width: lines.width, staffY: lines.y, events: m.events, length: m.length, points: pointsOf(m, lines) })
      }
    })
  }

  // share shares the lines out to pages, and spreads those of a page that has room to spare.
  share(again) {
    const gap = margin * this.staff
    const heights = this.lines.map(l => l.bottom - l.top + gap)
    const hard = this.systems.map((_, line) => hardness(this.measures.findLast(m => m.line === line)?.events ?? [], 1))
    const crossed = again.map(r => [this.measures[r.from]?.line, this.measures[r.to]?.line])
    this.first = leaves(heights, this.room - gap, hard, crossed)
    this.first.forEach((from, leaf) => {
      const to = this.first[leaf + 1] ?? this.lines.length
      const used = heights.slice(from, to).reduce((a, b) => a + b, 0)
      const spare = Math.max(0, this.room - gap - used)
      const extra = Math.min(spare / (to - from), this.staff * 1.2)
      let y = gap + extra / 2
      for (let line = from; line < to; line++) {
        this.lines[line].shift = y - this.lines[line].top
        this.lines[line].leaf = leaf
        this.systems[line].setAttribute('transform', `translate(0 ${this.lines[line].shift})`)
        y += heights[line] + extra
      }
      this.lines[from].needs = Math.max(this.room, used + gap)
    })
    for (const m of this.measures) {
      const line = this.lines[m.line]
      m.leaf = line.leaf
      m.y = line.top + line.shift - gap / 2
      m.height = line.bottom - line.top + gap
      m.boxY = Math.max(m.y, m.staffY + line.shift - this.staff * 0.8)
      m.boxHeight = Math.min(m.y + m.height, m.staffY + line.shift + this.staff * 1.8) - m.boxY
    }
  }

  /** show opens a page, from 0. It reports whether another one lay open. */
  show(leaf) {
    leaf = Math.min(Math.max(leaf, 0), this.count - 1)
    if (leaf === this.leaf || leaf < 0) return false
    this.leaf = leaf
    this.high = this.lines[this.first[leaf]].needs
    this.svg.setAttribute('viewBox', `${-left} 0 ${this.wide} ${this.high}`)
    this.systems.forEach((s, line) => s.classList.toggle('away', this.lines[line].leaf !== leaf))
    this.fit()
    return true
  }

  /** fit lays the over-layer exactly over the music, as large as it is shown. */
  fit() {
    if (!this.svg || this.leaf < 0) return
    const { clientWidth: w, clientHeight: h } = this.element
    const scale = Math.min(w / this.wide, h / this.high)
    Object.assign(this.over.style, {
      left: `${(w - this.wide * scale) / 2}px`, top: '0px', width: `${this.wide * scale}px`, height: `${this.high * scale}px`,
    })
  }

  /** fill reports how much of the screen the lines of the first page fill, 0 to 1. */
  fill() {
    const lines = this.lines.filter(l => l.leaf === 0)
    return lines.reduce((sum, l) => sum + l.bottom - l.top + margin * this.staff, 0) / this.room
  }

  /** leafOf reports the page of a measure. */
  leafOf(measure) { return this.measures[measure]?.leaf ?? 0 }

  /** looksOf lists rests and long notes of a measure that lasts from..to, in its time. */
  looksOf(measure, from, to) {
    const m = this.measures[measure]
    if (!m || !(m.length > 0)) return []
    const rate = (to - from) / m.length
    return m.events.filter(e => e.rest ? e.length * rate >= 300 : e.length * rate >= 700)
      .map(e => ({ at: from + e.at * rate, length: e.length * rate }))
  }

  /** place puts an element over a measure, around its staff. */
  place(element, measure) {
    const m = this.measures[measure]
    this.put(element, m.x, m.boxY, m.width, m.boxHeight)
  }

  /** hide puts an element over all of a measure, but for clef and signature at the head of a line. */
  hide(element, measure) {
    const m = this.measures[measure]
    const heads = this.measures[measure - 1]?.line !== m.line
    const x = heads ? Math.max(m.x, (m.points.find(p => p.head)?.x ?? 0) - this.staff / 2) : m.x
    this.put(element, x, m.y, m.x + m.width - x, m.height)
  }

  put(element, x, y, width, height) {
    Object.assign(element.style, {
      left: `${100 * (x + left) / this.wide}%`, width: `${100 * width / this.wide}%`,
      top: `${100 * y / this.high}%`, height: `${100 * height / this.high}%`,
    })
  }

  /** xOf reports where a share of a measure lies, as a share of the width. */
  xOf(measure, share) {
    const m = this.measures[measure], points = m.points
    const at = share * m.length
    let i = 0
    while (i + 2 < points.length && points[i + 1].at <= at) i++
    const a = points[i], b = points[i + 1]
    const part = b.at > a.at ? (at - a.at) / (b.at - a.at) : 0
    return (left + a.x + (b.x - a.x) * Math.min(1, Math.max(0, part))) / this.wide
  }
}

// repeats lists which measures are repeated, as {from, to}: by the repeat signs of the file.
function repeats(music) {
  const list = []
  let from = 0
  ;[...new DOMParser().parseFromString(music, 'text/xml').querySelectorAll('part:first-of-type > measure')].forEach((measure, i) => {
    if (measure.querySelector('repeat[direction=forward]')) from = i
    if (measure.querySelector('repeat[direction=backward]')) list.push({ from, to: i })
  })
  return list
}

// pointsOf lists where moments of a measure lie: {at, x}, at least two, in order.
function pointsOf(m, lines) {
  const points = []
  for (const e of m.events) {
    const g = document.getElementById(e.id)
    const head = g?.querySelector('g.notehead') ?? g
    if (!head) continue
    const b = head.getBBox()
    const x = b.x + b.width / 2, last = points[points.length - 1]
    if (b.width > 0 && (!last || e.at > last.at && x > last.x)) points.push({ at: e.at, x, head: true })
  }
  if (points.length === 0 || points[0].at > 0) points.unshift({ at: 0, x: lines.x })
  points.push({ at: Math.max(m.length, points[points.length - 1].at + 1e-6), x: lines.x + lines.width })
  return points
}
