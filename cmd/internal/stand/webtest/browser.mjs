// What the tests of the page in a browser share: the browser, and what is looked for.
import { createRequire } from 'node:module'
import path from 'node:path'

const modules = process.env.ONWARD_NODE_MODULES
const { chromium } = createRequire(path.join(modules, 'x'))('playwright-core')

/** sizes are the screens: a small laptop, a tablet upright, a telephone. */
export const sizes = { laptop: { width: 1280, height: 800 }, tablet: { width: 768, height: 1024 }, telephone: { width: 390, height: 844 } }

const faults = []

/** fault notes what is wrong; the run goes on. */
export function fault(words) { faults.push(words); console.log(`FAULT ${words}`) }

/** check notes a fault where a thing does not hold. */
export function check(holds, words) { if (!holds) fault(words) }

/** patience is how long the browser may take for anything, on a machine that is busy. */
export const patience = 90000

/** launch starts the browser; open then opens pages that note whatever goes wrong in them. */
export async function launch() {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox', '--disable-background-networking'], timeout: patience,
  })
  const open = async (address, size, more = {}) => {
    const context = await browser.newContext({ viewport: size, ...more })
    const page = await context.newPage()
    page.setDefaultTimeout(patience)
    page.on('console', m => { if (['error', 'warning'].includes(m.type()) && !page.mayFail) fault(`${address}: console: ${m.text()}`) })
    page.on('pageerror', e => fault(`${address}: ${e.stack}`))
    page.on('request', r => check(new URL(r.url()).origin === new URL(address).origin, `a request leaves for ${r.url()}`))
    await page.goto(address)
    return page
  }
  return { browser, open }
}

/** done ends the run: with exit code 1 where there were faults. */
export async function done(browser) {
  await browser.close()
  console.log(`${faults.length} faults`)
  process.exit(faults.length > 0 ? 1 : 0)
}

/** act does an action as the page would. */
export function act(page, action) {
  return page.evaluate(async a => { await window.stand.link.act(a) }, action)
}

/** engraved waits until a page lies on the sheet, laid for the screen as it is now. */
export async function engraved(page, count) {
  await page.waitForFunction(c => {
    const { sheet, state } = window.stand
    const main = document.getElementById('main')
    return state.page?.count === c && sheet?.laid === `${c} ${main.clientWidth} ${main.clientHeight}` && sheet.count > 0
  }, count)
}

/**
 * look looks at each page of the music as it is shown: lines that are cut, words that lie on
 * notes, notes of two lines that touch, staves too small. It reports what it looked at.
 */
export async function look(page, name, leastStaff) {
  const seen = await page.evaluate(() => {
    const { sheet } = window.stand
    const box = e => { const b = e.getBoundingClientRect(); return { l: b.left, r: b.right, t: b.top, b: b.bottom } }
    const meet = (a, b, by = 1) => a.l < b.r - by && b.l < a.r - by && a.t < b.b - by && b.t < a.b - by
    const found = { faults: [], lines: 0, heads: 0, words: 0, staff: Infinity, pages: sheet.count, warnings: sheet.warnings }
    const open = sheet.leaf
    for (let leaf = 0; leaf < sheet.count; leaf++) {
      sheet.show(leaf)
      const frame = box(document.getElementById('sheet'))
      const lines = sheet.systems.filter(s => !s.classList.contains('away'))
      let before = null
      for (const system of lines) {
        found.lines++
        sheet.svg.classList.add('measuring')
        const here = box(system)
        sheet.svg.classList.remove('measuring')
        if (here.l < frame.l - 1 || here.r > frame.r + 1 || here.t < frame.t - 1 || here.b > frame.b + 1) found.faults.push(`page ${leaf + 1}: a line is cut: ${JSON.stringify([here, frame])}`)
        if (before && before.b > here.t + 1) found.faults.push(`page ${leaf + 1}: two lines meet`)
        before = here
        const staff = box(system.querySelector('g.staff path')), last = box([...system.querySelectorAll('g.staff')][0].querySelectorAll(':scope > path')[4])
        found.staff = Math.min(found.staff, last.b - staff.t)
        const heads = [...system.querySelectorAll('g.notehead')].map(box)
        found.heads += heads.length
        const words = [...system.querySelectorAll('g.tempo text, g.dir text, g.reh text, g.mNum text, g.dynam')]
        for (const w of words) {
          found.words++
          // A box of text is higher than its letters: capitals fill about the middle 70 %.
          const b = box(w), h = b.b - b.t
          const letters = w.localName === 'text' && !w.querySelector('[font-family=Leipzig]') ? { ...b, t: b.t + h * 0.2, b: b.b - h * 0.22 } : w.localName === 'text' ? null : b
          if (letters && heads.some(n => meet(letters, n))) found.faults.push(`page ${leaf + 1}: "${w.textContent.trim().slice(0, 30)}" (${w.closest('g.tempo, g.dir, g.reh, g.mNum, g.dynam').getAttribute('class')}) lies on a note`)
        }
      }
    }
    sheet.show(open)
    return found
  })
  for (const f of seen.faults) fault(`${name}: ${f}`)
  for (const w of seen.warnings) fault(`${name}: the engraver says: ${w}`)
  check(seen.lines > 0 && seen.heads > 0, `${name}: nothing to look at: ${JSON.stringify(seen)}`)
  check(seen.staff >= leastStaff, `${name}: a staff is ${seen.staff} px high, want ${leastStaff}`)
  return seen
}

/** reachable looks whether all controls have a name, and lie inside the window or can be scrolled to. */
export async function reachable(page, name) {
  const bad = await page.evaluate(() => {
    const list = []
    for (const e of document.querySelectorAll('button, select, input, a[href]')) {
      if (!e.checkVisibility() || e.closest('dialog:not([open])')) continue
      const b = e.getBoundingClientRect()
      const named = e.getAttribute('aria-label') || e.textContent.trim() || e.labels?.length
      if (!named) list.push(`${e.outerHTML.slice(0, 80)} has no name`)
      if (!e.closest('.panel, dialog') && (b.left < -1 || b.right > innerWidth + 1 || b.top < -1 || b.bottom > innerHeight + 1)) list.push(`${e.outerHTML.slice(0, 80)} lies outside`)
    }
    if (document.documentElement.scrollWidth > innerWidth + 1) list.push('the page is wider than the window')
    return list
  })
  for (const b of bad) fault(`${name}: ${b}`)
}

/** shoot makes a picture where somebody wants to look. */
export async function shoot(page, name) {
  if (process.env.ONWARD_PICTURES) await page.screenshot({ path: path.join(process.env.ONWARD_PICTURES, `${name}.png`) })
}
