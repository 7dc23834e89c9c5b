// The page that engraves for paper: it is opened by the program, in a browser that nobody
// sees, and reports sheets as SVG; the same sheets lie on the page, for the PDF.
import createVerovioModule from './engraver/verovio-module.mjs'
import { VerovioToolkit } from './engraver/verovio.mjs'
import { drawingOf, unitsPerStaff } from './engraving.js'
import { distances, heightOf, place, share } from './print.share.js'
import { outlined } from './print.signs.js'

const space = 'http://www.w3.org/2000/svg'
const tens = 10 // the drawing's units to the engraver's

/** crowded is how near two notes may stand, in staves: a head is 0.3 wide. */
const crowded = 0.4

/** Lengths of a sheet, in millimetres. */
const margin = { side: 14, top: 13, bottom: 12 }
/** staves are the heights of a staff: 7 mm as in printed band parts (common practice), less only where that saves a sheet. */
const staves = [7, 6.7, 6.4]
const fonts = 'Times, "Times New Roman", "Liberation Serif", serif'

// The engraver's own style, which it binds to one drawing; the page has the same.
const style = `g.page-margin { font-family: ${fonts}; } ellipse, path, polygon, polyline, rect { stroke: currentColor; }
g.ending, g.fing, g.reh, g.tempo { font-weight: bold; } g.dir, g.dynam, g.mNum { font-style: italic; } g.label { font-weight: normal; }`
const worn = new CSSStyleSheet()
worn.replaceSync(style)
document.adoptedStyleSheets = [worn] // the page's policy lets no drawing bring its own

const engraver = createVerovioModule().then(module => new VerovioToolkit(module))
const bench = document.getElementById('bench')
let said = []
for (const way of ['log', 'info', 'warn', 'error']) console[way] = (...words) => { said.push(words.join(' ')) }

// options lay all lines on one long page. Breaks are encoded, the file's lines, or smart: by
// the width, at the file's lines where those are full enough.
function options(width, breaks) {
  return {
    scale: 100, pageWidth: Math.round(width), pageHeight: 60000, adjustPageHeight: true, breaks, breaksSmartSb: 0.62, svgViewBox: true,
    pageMarginTop: 0, pageMarginBottom: 0, pageMarginLeft: 0, pageMarginRight: 0, header: 'none', footer: 'none',
    expandNever: true, mnumInterval: 0, minLastJustification: breaks === 'encoded' ? 0.25 : 0.6, spacingSystem: 4, justificationSystem: 0,
    spacingLinear: 0.27, spacingNonLinear: 0.55, dynamDist: 1.5,
  }
}

// headOf reports what stands at the head of a page: {title, subtitle, instrument}.
function headOf(music) {
  const score = new DOMParser().parseFromString(music, 'text/xml')
  const words = selector => score.querySelector(selector)?.textContent.trim() ?? ''
  const credit = type => [...score.querySelectorAll('credit')].find(c => c.querySelector('credit-type')?.textContent.trim() === type)?.querySelector('credit-words')?.textContent.trim() ?? ''
  return { title: words('work > work-title') || words('movement-title') || credit('title'), subtitle: credit('subtitle'), instrument: words('part-list part-name') }
}

/** engrave engraves MusicXML for sheets of {width, height} mm, which bear the name: {sheets, staff, systems}. */
async function engrave(music, sheet) {
  const toolkit = await engraver
  said = []
  const head = headOf(music)
  document.title = head.title || sheet.name
  const unnamed = music.replace(/<part-(name|abbreviation)>/g, '<part-$1 print-object="no">')
  const asked = { unnamed, head, sheet }
  const ownLines = keepsLines(music)
  // A phrase to a line, as the file has it, is read best; fuller lines are where that saves a sheet.
  let best = await lay(toolkit, asked, staves[0], 'encoded')
  if (best.tight && !ownLines) best = null
  for (const staff of staves) {
    if (best?.first.length === 1) break
    if (ownLines && staff === staves[0]) continue
    const laid = await lay(toolkit, asked, staff, ownLines ? 'encoded' : 'smart')
    if (!best || laid.first.length < best.first.length) best = laid
    if (laid.over > within) break
  }
  return draw(best, head, sheet)
}

/** within is how much more than a sheet less a piece may need for smaller staves to be tried. */
const within = 0.3

// keepsLines reports whether each line of the file has to begin a line: exercises, not a piece.
function keepsLines(music) { return /name="onward-identity">(warmup=|onward drills )/.test(music) }

// lay engraves with staves of a height, and finds where the lines go.
async function lay(toolkit, { unnamed, head, sheet }, staff, breaks) {
  const unit = unitsPerStaff / staff * tens // of the drawing, to the millimetre
  toolkit.setOptions(options((sheet.width - 2 * margin.side) * unit / tens, breaks))
  if (!toolkit.loadData(unnamed)) throw new Error(`the engraver cannot read this page ${said.join('; ')}`)
  if (toolkit.getPageCount() !== 1) throw new Error('the page is too long to engrave')
  const styles = []
  const svg = toolkit.renderToSVG(1).replace(/<style[^>]*>([^<]*)<\/style>/g, (_, style) => { styles.push(style); return '' })
  const { defs, music: drawn } = await drawingOf({ svg, style: styles.join('\n') })
  const all = make('svg', { width: 1000, height: 1000, viewBox: `0 0 ${sheet.width * unit} ${sheet.width * unit}` })
  drawn.removeAttribute('transform')
  all.append(defs, drawn)
  bench.replaceChildren(all)
  await outlined(all, defs, toolkit)
  for (const t of drawn.querySelectorAll('text')) squeeze(t, (sheet.width - 2 * margin.side) * unit)
  const systems = [...drawn.querySelectorAll('g.system')]
  const lines = systems.map(g => {
    const box = g.getBBox(), top = g.querySelector('g.staff > path').getBBox().y
    return { g, top, up: (top - box.y) / unit, down: (box.y + box.height - top) / unit }
  })
  const apart = distances(lines, { gap: 0.35 * staff, pitch: 2.3 * staff })
  const body = sheet.height - margin.top - margin.bottom - foot
  const room = n => body - (n === 0 ? headHeight(head) : runningHead)
  const first = share(lines, apart, room, lines.map(({ g }, i) => lines[i + 1]?.g.querySelector('g.reh') ? 0 : restsAtEnd(g) ? 0.3 : 1))
  const sheetsBefore = first.length - 1
  let left = 0 // what a sheet less would have room for
  for (let i = 0; i < sheetsBefore; i++) left += room(i)
  return { staff, unit, breaks, drawn, defs, lines, apart, room, first, tight: systems.some(g => gapOf(g) < crowded * staff * unit), over: sheetsBefore ? heightOf(lines, apart, 0, lines.length) / left - 1 : 0 }
}

// gapOf reports how near the heads of two notes of a line that follow each other stand.
function gapOf(system) {
  const at = [...system.querySelectorAll('g.note:not(.grace) g.notehead')].map(h => h.getBBox().x).sort((a, b) => a - b)
  return Math.min(...at.slice(1).map((x, i) => x - at[i]))
}

// squeeze makes words smaller that would go beyond the right end of the lines.
function squeeze(text, right) {
  const box = text.getBBox(), beyond = box.x + box.width - right
  if (beyond <= 0 || box.width === 0 || box.x >= right) return
  const part = Math.max(0.5, (right - box.x) / box.width)
  for (const span of text.querySelectorAll('tspan[font-size]')) span.setAttribute('font-size', `${parseFloat(span.getAttribute('font-size')) * part}px`)
}

const foot = 6, runningHead = 9

function headHeight(head) { return 12 + (head.subtitle ? 6 : 0) }

// restsAtEnd reports whether a line ends with a rest, in which to turn.
function restsAtEnd(system) {
  const measures = system.querySelectorAll('g.measure')
  const sounds = measures[measures.length - 1]?.querySelectorAll('g.note, g.rest, g.mRest') ?? []
  return sounds.length > 0 && !sounds[sounds.length - 1].matches('g.note')
}

// draw makes the sheets, lays them on the page, and reports them.
function draw({ staff, unit, drawn, defs, lines, apart, room, first }, head, sheet) {
  const holder = document.getElementById('sheets')
  holder.replaceChildren()
  const sheets = [], systems = []
  let loosest = 0.9 * staff // a sheet's lines lie no wider than those of the sheet before
  first.forEach((from, n) => {
    const to = first[n + 1] ?? lines.length
    const { tops, extra } = place(lines, apart, from, to, room(n), loosest)
    loosest = Math.max(extra, 0.3 * staff)
    const page = make('svg', { width: `${sheet.width}mm`, height: `${sheet.height}mm`, viewBox: `0 0 ${sheet.width * unit} ${sheet.height * unit}`, color: 'black' })
    const ink = drawn.cloneNode(false)
    const start = margin.top + (n === 0 ? headHeight(head) : runningHead)
    tops.forEach((top, i) => {
      const line = lines[from + i]
      const g = make('g', { transform: `translate(${margin.side * unit} ${(start + top) * unit - line.top})` })
      g.append(line.g)
      ink.append(g)
    })
    page.append(ink, ...words(head, sheet, n, first.length).map(w => text(w, unit)))
    page.prepend(used(defs, page))
    const div = document.createElement('div')
    div.className = 'sheet'
    div.style.width = `${sheet.width}mm`
    div.style.height = `${sheet.height - 0.1}mm` // rounded up it would be a sheet more
    div.append(page)
    holder.append(div)
    fit(page, sheet, unit)
    sheets.push(written(page, head.title))
    systems.push(to - from)
  })
  bench.replaceChildren()
  return { sheets, staff, systems }
}

// words lists the words of sheet n: {words, x, y, size, anchor, most} in millimetres.
function words(head, sheet, n, count) {
  const middle = sheet.width / 2, right = sheet.width - margin.side, inner = sheet.width - 2 * margin.side
  const bottom = sheet.height - margin.bottom
  const list = []
  if (n === 0) {
    list.push({ words: head.title, x: middle, y: margin.top + 7, size: 7.2, anchor: 'middle', most: 0.6 * inner, weight: 'bold' })
    list.push({ words: head.subtitle, x: middle, y: margin.top + 13, size: 4, anchor: 'middle', most: 0.9 * inner })
    list.push({ words: head.instrument, x: margin.side, y: margin.top + 4, size: 4.4, anchor: 'start', most: 0.19 * inner })
  } else {
    list.push({ words: head.instrument, x: margin.side, y: margin.top + 3, size: 3.8, anchor: 'start', most: 0.24 * inner })
    list.push({ words: head.title, x: middle, y: margin.top + 3, size: 3.8, anchor: 'middle', most: 0.5 * inner })
  }
  list.push({ words: `${n + 1} / ${count}`, x: middle, y: bottom, size: 3.8, anchor: 'middle', most: inner / 3 })
  list.push({ words: sheet.name, x: right, y: bottom, size: 2.8, anchor: 'end', most: 0.4 * inner })
  return list.filter(w => w.words)
}

function text({ words, x, y, size, anchor, most, weight }, unit) {
  const t = make('text', { x: x * unit, y: y * unit, 'font-size': size * unit, 'text-anchor': anchor, 'font-family': fonts, 'font-weight': weight ?? 'normal' })
  t.dataset.most = most
  t.textContent = words
  return t
}

// fit makes words smaller that are wider than their place.
function fit(page, sheet, unit) {
  for (const t of page.querySelectorAll('text[data-most]')) {
    const wide = t.getComputedTextLength(), most = Number(t.dataset.most) * unit
    if (wide > most) t.setAttribute('font-size', Number(t.getAttribute('font-size')) * most / wide)
    delete t.dataset.most
  }
}

// used copies what a drawing uses of the definitions.
function used(defs, page) {
  const ids = new Set([...page.querySelectorAll('use')].map(u => u.href.baseVal.slice(1)))
  const own = make('defs')
  for (const d of defs.children) if (ids.has(d.id)) own.append(d.cloneNode(true))
  return own
}

// written writes a sheet as a file that needs no other.
function written(page, title) {
  const copy = page.cloneNode(true)
  const s = make('style'), t = make('title')
  s.textContent = style
  t.textContent = title
  copy.prepend(t, s)
  return '<?xml version="1.0" encoding="UTF-8"?>\n' + new XMLSerializer().serializeToString(copy) + '\n'
}

function make(name, attributes = {}) {
  const element = document.createElementNS(space, name)
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value)
  return element
}

globalThis.paper = { ready: engraver.then(() => true), engrave }
