// flow.mjs ADDRESS: the whole way through a practice, at every size, by touch, keys and pedal.
import { act, check, done, engraved, launch, look, reachable, shoot, sizes } from './browser.mjs'

const [address] = process.argv.slice(2)
const { browser, open } = await launch()
const place = (page, name) => page.waitForFunction(p => document.body.dataset.place === p, name)
const leastStaff = { laptop: 50, tablet: 45, telephone: 30 }
let count = 0

for (const [name, size] of Object.entries(sizes)) {
  const page = await open(address, size, { hasTouch: true })
  await place(page, 'choose')
  await reachable(page, `${name}, choose`)
  await shoot(page, `choose-${name}`)
  await page.keyboard.press('PageDown') // the pedal starts
  await place(page, 'look-over')
  await engraved(page, ++count)
  for (const words of ['Look for', 'clef, key', 'dynamics']) check((await page.textContent('#panel')).includes(words), `${name}: the look-over does not say ${words}`)
  // the clocks are compared in the first second or two
  const told = await page.waitForFunction(() => /^\d:\d\d$/.test(document.getElementById('left').textContent), null, { timeout: 10000 }).then(() => true, () => false)
  check(told, `${name}: no time left`)
  await reachable(page, `${name}, look-over`)
  await look(page, `${name}, look-over`, 20)
  await shoot(page, `look-over-${name}`)

  const before = await page.evaluate(() => window.stand.sheet.first.join())
  await page.tap('[data-do=go]')
  await place(page, 'count-in')
  await page.waitForFunction(() => document.querySelector('#count b')?.textContent)
  check((await page.locator('#count').boundingBox()).height >= 150, `${name}: the count-in is small`)
  check(await page.evaluate(() => window.stand.sheet.first.join()) === before, `${name}: the take lies otherwise than the look-over`)
  await shoot(page, `count-in-${name}`)
  await place(page, 'take')
  await page.waitForFunction(() => document.getElementById('count').hidden)
  check(await page.isHidden('#panel'), `${name}: something stands beside the music in the take`)
  check(await page.locator('.pointer').count() === 0, `${name}: something moves, unasked`)
  await look(page, `${name}, take`, leastStaff[name])
  await reachable(page, `${name}, take`)
  await shoot(page, `take-${name}`)
  const many = await page.evaluate(() => window.stand.sheet.count)
  if (many > 1) {
    await page.keyboard.press('PageDown')
    check(await page.evaluate(() => window.stand.sheet.leaf) === 1, `${name}: the pedal does not turn`)
    await page.keyboard.press('PageUp')
    check(await page.evaluate(() => window.stand.sheet.leaf) === 0, `${name}: the pedal does not turn back`)
  }
  const left = await page.evaluate(() => {
    const button = document.querySelector('[data-do=leave]')
    button.click()
    const once = [button.textContent, document.body.dataset.place]
    button.click()
    return once.join()
  })
  check(left === 'Leave it?,take', `${name}: one press leaves the take: ${left}`)
  await place(page, 'slips')

  await page.tap('.measure[data-measure="2"]')
  await page.waitForSelector('.measure[data-measure="2"][data-slip=pitch]')
  await page.tap('.measure[data-measure="2"]')
  await page.waitForSelector('.measure[data-measure="2"][data-slip=rhythm]')
  await page.tap('.measure[data-measure="2"]')
  await page.waitForSelector('.measure[data-measure="2"][data-slip=both]')
  await page.focus('.measure[data-measure="0"]')
  await page.keyboard.press('ArrowRight')
  await page.keyboard.press('r')
  await page.waitForSelector('.measure[data-measure="1"][data-slip=rhythm]')
  check(/: rhythm slipped/.test(await page.getAttribute('.measure[data-measure="1"]', 'aria-label')), `${name}: a slip is not said`)
  await page.tap('[data-key=stopped]')
  await page.tap('.measure[data-measure="3"]')
  await page.waitForSelector('.measure[data-measure="3"][data-stopped]')
  await page.tap('[data-key=kept]')
  await page.waitForSelector('.measure[data-stopped]', { state: 'detached' })
  await reachable(page, `${name}, slips`)
  await shoot(page, `slips-${name}`)
  await page.tap('[data-do=keep]')
  await place(page, 'meaning')
  check((await page.textContent('#panel')).includes('16 of 18 measures as written'), `${name}: the meaning says ${await page.textContent('#panel')}`)
  await reachable(page, `${name}, meaning`)
  await shoot(page, `meaning-${name}`)

  await page.click('#menu')
  await reachable(page, `${name}, menu`)
  await page.check('#dark')
  await shoot(page, `menu-${name}`)
  await page.click('#about-open')
  check((await page.textContent('#about')).includes('Lesser General Public License'), 'the licence is not shown')
  await page.keyboard.press('Escape')
  await contrast(page, `${name}, dark`)
  await act(page, { do: 'offer' })
  await place(page, 'choose')
  await page.context().close()
}

await zoomed()
await quiet()
await classOf()
await done(browser)

// contrast looks at words, edges of controls and marks: 4.5 and 3 to 1 (WCAG 2.2).
async function contrast(page, name) {
  const bad = await page.evaluate(() => {
    const light = c => {
      const [r, g, b] = c.match(/\w\w/g).map(h => parseInt(h, 16) / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
      return 0.2126 * r + 0.7152 * g + 0.0722 * b
    }
    const style = getComputedStyle(document.documentElement)
    const value = n => { const v = style.getPropertyValue(n).trim().slice(1); return light(v.length === 3 ? [...v].map(h => h + h).join('') : v) }
    const against = (a, b) => { const [x, y] = [value(a), value(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05) }
    return [['--ink', '--paper', 4.5], ['--quiet', '--paper', 4.5], ['--mark', '--paper', 4.5], ['--on-mark', '--mark', 4.5], ['--line', '--paper', 3]]
      .filter(([a, b, least]) => against(a, b) < least).map(([a, b]) => `${a} on ${b}: ${against(a, b).toFixed(1)}`)
  })
  for (const b of bad) check(false, `${name}: contrast of ${b}`)
}

// zoomed has the page at 200 % on a small laptop: half as many CSS pixels.
async function zoomed() {
  const page = await open(address, { width: 640, height: 400 }, { deviceScaleFactor: 2 })
  await contrast(page, 'light')
  await act(page, { do: 'start' })
  await place(page, 'look-over')
  await engraved(page, ++count)
  await reachable(page, 'at 200 %, look-over')
  await act(page, { do: 'go' })
  await place(page, 'take')
  await look(page, 'at 200 %, take', 20)
  await shoot(page, 'zoomed')
  await act(page, { do: 'leave' })
  await place(page, 'slips')
  await act(page, { do: 'offer' })
  await place(page, 'choose')
  await page.context().close()
}

// quiet has a player who asks for the pointer, and for reduced motion.
async function quiet() {
  const page = await open(address, sizes.laptop, { reducedMotion: 'reduce' })
  await page.click('#menu')
  await page.check('#pointer')
  await page.keyboard.press('Escape')
  await act(page, { do: 'start' })
  await engraved(page, ++count)
  await act(page, { do: 'go' })
  await page.waitForSelector('.pointer')
  const places = await page.evaluate(async () => {
    const seen = new Set()
    const until = performance.now() + 3000
    while (performance.now() < until) {
      seen.add(document.querySelector('.pointer')?.style.left)
      await new Promise(requestAnimationFrame)
    }
    const { beats } = window.stand.take
    return { seen: seen.size, beats: beats.filter(b => b.measure >= 0 && b.at < window.stand.link.clock.now() - window.stand.take.start).length }
  })
  check(places.seen <= places.beats + 2, `the pointer glides though it should not: ${places.seen} places in ${places.beats} beats`)
  await act(page, { do: 'leave' })
  await place(page, 'slips')
  await act(page, { do: 'offer' })
  await page.context().close()
}

// classOf has two sections, each with its own part.
async function classOf() {
  const own = await open(address, sizes.tablet), other = await open(`${address}?part=trombone`, sizes.tablet)
  await act(own, { do: 'start' })
  count++
  for (const page of [own, other]) await engraved(page, count)
  const clef = page => page.evaluate(() => document.querySelector('g.clef use')?.getAttribute('href') ?? document.querySelector('g.clef use')?.getAttributeNS('http://www.w3.org/1999/xlink', 'href'))
  const [a, b] = [await clef(own), await clef(other)]
  check(a.startsWith('#E050') && b.startsWith('#E062'), `clefs ${a}, ${b}: want G and F (SMuFL E050, E062)`)
  check((await other.textContent('#words')).includes('trombone'), 'the part is not named')
  await shoot(other, 'trombone')
}
