// The stand's line to the program: what it is told, what it asks, and the shared clock.
import { SharedClock } from './clock.js'

const silence = 13000 // after so long without a sign of life the line is taken up anew

/** here is this page's clock, in milliseconds. */
const here = () => performance.now()

/** A Link follows the practice. onState gets each state, onLine whether the line holds. */
export class Link {
  constructor(onState, onLine) {
    this.onState = onState
    this.onLine = onLine
    this.clock = new SharedClock(here, () => Date.now())
    this.heard = here()
    this.open()
    this.synchronize(8)
    setInterval(() => this.watch(), 1000)
    setInterval(() => this.synchronize(4), 15000)
    const back = () => { if (!document.hidden) { this.synchronize(8); this.watch() } }
    for (const [target, event] of [[document, 'visibilitychange'], [document, 'resume'], [window, 'online'], [window, 'pageshow'], [window, 'focus']]) {
      target.addEventListener(event, back)
    }
  }

  /** close ends the line for good. */
  close() {
    this.closed = true
    this.source.close()
  }

  open() {
    this.source?.close()
    this.heard = here()
    const source = this.source = new EventSource('follow')
    const alive = () => { this.heard = here(); this.onLine(true) }
    source.addEventListener('open', () => { alive(); this.synchronize(4) })
    source.addEventListener('alive', alive)
    source.addEventListener('state', event => { alive(); this.onState(JSON.parse(event.data)) })
    source.addEventListener('error', () => this.onLine(false))
  }

  // watch takes the line up anew when it is dead, and the clock when this page slept.
  watch() {
    if (this.closed) return
    if (this.clock.slept()) this.synchronize(8)
    if (this.source.readyState === EventSource.CLOSED || here() - this.heard > silence) {
      this.onLine(false)
      this.open()
    }
  }

  /** synchronize makes round trips, one at a time; it never fails. */
  async synchronize(trips) {
    if (this.busy) return
    this.busy = true
    try {
      await this.clock.synchronize(async () => (await this.ask('clock')).now, trips)
    } catch { /* the line is down: what was known still holds */ } finally { this.busy = false }
  }

  /** ask reports what the program tells at a path. */
  async ask(path) {
    const answer = await fetch(path, { cache: 'no-store', signal: AbortSignal.timeout(10000) })
    if (!answer.ok) throw new Error(await answer.text() || answer.statusText)
    return answer.headers.get('Content-Type')?.includes('json') ? answer.json() : answer.text()
  }

  /** act does an action; the error says why it is refused. */
  async act(action) {
    const answer = await fetch('do', {
      method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(action), signal: AbortSignal.timeout(10000),
    })
    if (!answer.ok) throw new Error(await answer.text() || answer.statusText)
  }
}
