// A take as the stand shows it: all of it follows from the schedule and the time, so it is
// right again at once after whatever held the page up.
import { make } from './make.js'
import { countAt, hiddenAt, shareOf, spanAt, spans } from './position.js'
import { leafAt, turns } from './turning.js'

/** A Take is one take on one sheet. plan is the server's schedule, in nanoseconds. */
export class Take {
  constructor(plan, sheet) {
    const ms = ns => ns / 1e6
    this.start = ms(plan.start)
    this.end = ms(plan.end)
    this.beats = plan.beats.map(b => ({ ...b, at: ms(b.at) }))
    this.covers = plan.covers.map(c => ({ ...c, at: ms(c.at) }))
    this.spans = spans(this.beats, this.end)
    this.first = this.spans[0]?.from ?? this.end
    this.follow(sheet)
  }

  /** follow takes up a sheet that was laid anew. */
  follow(sheet) {
    this.sheet = sheet
    this.turns = turns(this.spans, m => sheet.leafOf(m), s => sheet.looksOf(s.measure, s.from, s.to))
    this.turnedAt = null
    this.hidden = ''
    this.pointer = null
  }

  /** turned tells of a page that the player turned: it stays until the next turn of the take's. */
  turned(time) { this.turnedAt = time }

  /** at reports what there is at a time of the session's clock: {count, span, share, leaf}. */
  at(now) {
    const time = now - this.start
    const i = spanAt(this.spans, time)
    return {
      time, over: time >= this.end, count: time < this.first ? countAt(this.beats, time) : null,
      measure: i < 0 ? -1 : this.spans[i].measure, share: i < 0 ? 0 : shareOf(this.spans[i], time),
      open: leafAt(this.turns, time),
    }
  }

  /** draw brings the sheet to a time; pointed says to show where the band is. It reports at(now). */
  draw(now, pointed, still) {
    const here = this.at(now)
    if (this.turnedAt === null || here.open.at > this.turnedAt) {
      this.turnedAt = null
      here.turned = this.sheet.show(here.open.leaf)
    }
    this.cover(here.time)
    this.point(here, pointed, still)
    return here
  }

  cover(time) {
    const hidden = [...hiddenAt(this.covers, time)].filter(m => this.sheet.measures[m]?.leaf === this.sheet.leaf)
    const key = `${this.sheet.leaf}: ${hidden}`
    if (key === this.hidden) return
    this.hidden = key
    for (const old of this.sheet.over.querySelectorAll('.cover')) old.remove()
    for (const m of hidden) {
      const block = make('div', { class: 'cover', 'data-measure': m })
      this.sheet.hide(block, m)
      this.sheet.over.append(block)
    }
  }

  point(here, pointed, still) {
    const m = this.sheet.measures[here.measure]
    if (!pointed || !m || m.leaf !== this.sheet.leaf) {
      this.pointer?.remove()
      this.pointer = null
      return
    }
    if (!this.pointer?.isConnected) {
      this.pointer = make('div', { class: 'pointer' })
      this.sheet.over.append(this.pointer)
    }
    const at = spanAt(this.spans, here.time)
    const share = still ? this.spans[at].beats.findLast(b => b.at <= here.time)?.share ?? 0 : here.share
    this.sheet.place(this.pointer, here.measure)
    this.pointer.style.width = ''
    this.pointer.style.left = `${100 * this.sheet.xOf(here.measure, share)}%`
  }
}
