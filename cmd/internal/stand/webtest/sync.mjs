// sync.mjs ADDRESS ZERO: how far the page's position is from the take's, in milliseconds, over
// a whole take: with the line down for ten seconds, a page that was frozen, and a page that
// was opened in the middle. ZERO is the zero of the session's clock as a time of day, in
// milliseconds: on one machine both are known.
import { act, check, done, engraved, fault, launch, sizes } from './browser.mjs'

const [address, zero] = process.argv.slice(2)
const { browser, open } = await launch()
const page = await open(address, sizes.laptop)
await act(page, { do: 'start' })
await engraved(page, 1)
await act(page, { do: 'go' })
await page.waitForFunction(() => window.stand.take)

// sample reports how far the page's time is off, what it knows of that itself, and how long
// after a beat's time its count or measure was drawn.
const sample = (p, zero) => p.evaluate(async zero => {
  const off = []
  for (let i = 0; i < 20; i++) {
    off.push(window.stand.link.clock.now() - (performance.timeOrigin + performance.now() - zero))
    await new Promise(r => setTimeout(r, 5))
  }
  off.sort((a, b) => a - b)
  return { off: off[10], bound: window.stand.link.clock.error(), over: window.stand.take === null }
}, Number(zero))

let worst = 0, samples = 0
async function note(p, name) {
  const s = await sample(p, zero)
  if (s.over) return false
  samples++
  worst = Math.max(worst, Math.abs(s.off))
  if (Math.abs(s.off) > s.bound + 2) fault(`${name}: ${s.off.toFixed(2)} ms off, though within ${s.bound.toFixed(2)} by its own account`)
  return true
}

const began = Date.now()
let down = false, up = false, frozen = false, late = null
while (await note(page, 'the page')) {
  const past = Date.now() - began
  if (past > 3000 && !down) {
    down = true
    page.mayFail = true
    await page.context().setOffline(true)
  }
  if (past > 13500 && !up) {
    up = true
    await page.context().setOffline(false)
    await page.waitForFunction(() => window.stand.link.source.readyState === 1)
    page.mayFail = false
  }
  if (up && past > 16000 && !frozen) {
    frozen = true
    const c = await page.context().newCDPSession(page)
    await c.send('Page.setWebLifecycleState', { state: 'frozen' })
    await new Promise(r => setTimeout(r, 3000))
    await c.send('Page.setWebLifecycleState', { state: 'active' })
  }
  if (frozen && !late) {
    late = await open(address, sizes.tablet)
    await late.waitForFunction(() => window.stand.take)
  }
  if (late && !await note(late, 'the page opened in the middle')) break
  await new Promise(r => setTimeout(r, 250))
}
check(late && samples > 20, `only ${samples} samples`)
check(await page.evaluate(() => window.stand.state.place) === 'slips', 'the take did not come to its end')
console.log(`position off by ${worst.toFixed(2)} ms at most, ${samples} samples`)
await done(browser)
