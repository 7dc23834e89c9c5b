// The page: shows the practice's state, and lets the player act on it.
import { Engraver } from './engraving.js'
import { Link } from './link.js'
import { make, minutes } from './make.js'
import { mark } from './marking.js'
import { print } from './paper.js'
import { buttons, measureName, panels } from './panels.js'
import { pedal } from './pedal.js'
import { keepAwake, toggleFull } from './screen.js'
import { settings } from './settings.js'
import { Sheet } from './sheet.js'
import { Take } from './take.js'
import { largerBy } from './turning.js'
import { wish, wishes } from './wishes.js'

const get = id => document.getElementById(id)
const still = matchMedia('(prefers-reduced-motion: reduce)')

let state = { place: 'waiting', may: [] }
let engraver = null, sheet = null, take = null
let laid = '' // what lies on the sheet: page, part, screen
let music = '' // its MusicXML
let asksWhere = false
let drawing = false

const part = () => new URLSearchParams(location.search).get('part') ?? ''
const link = new Link(show, online)
// For those who test the page and those who look why it does what it does.
window.stand = { link, get state() { return state }, get sheet() { return sheet }, get take() { return take } }

// show shows a state of the practice.
function show(next) {
  const before = state
  state = next
  if (state.over) state.place = 'over'
  if (state.place !== before.place) { asksWhere = false; entered(before.place) }
  const page = headless[state.place] === undefined ? state.page : null // nothing of a page that is past
  get('title').textContent = page?.title || headless[state.place] || 'The stand'
  document.title = get('title').textContent
  get('words').textContent = [page?.words, part() && `this stand: ${partWords()}`].filter(Boolean).join(' · ')
  document.body.dataset.place = state.place
  document.body.dataset.sheet = state.page?.scored ? 'music' : 'none'
  trouble(state.problem)
  showDoing()
  showPanel()
  opened()
  if (state.engraver) engraver ??= new Engraver() // ahead of the first page: it takes a while to start
  laySheet()
  followTake()
  showMarks()
  setup.fill(state, part())
}

// headless are the places without a page, and what stands at the head there.
const headless = { waiting: 'The stand', choose: 'What comes next', making: 'The stand', record: 'The record', over: 'The stand' }

// entered says in words where the practice is now, and readies the screen.
function entered(from) {
  keepAwake(['look-over', 'count-in', 'take'].includes(state.place))
  const words = {
    'look-over': `Look it over. ${state.page?.title ?? ''}`, 'count-in': 'The count-in.', take: '', slips: 'The end. What slipped?',
    meaning: 'What it means.', choose: 'Choose what comes next.', rest: 'Rest.', making: 'The page is being written.', over: 'The practice is over.',
  }[state.place]
  if (words) say(words)
  if (from === 'take' || from === 'count-in') sheet?.show(0)
}

function say(words) { get('said').textContent = words }

let problem = '', dropped = false
function trouble(words) { problem = words ?? ''; showTrouble() }
function online(holds) {
  const was = dropped
  dropped = !holds
  if (was !== dropped) showTrouble()
}
function showTrouble() {
  const words = [problem, dropped && 'The line to the program is down: the page goes on by its own clock.'].filter(Boolean).join(' ')
  get('trouble').hidden = !words
  if (get('trouble').textContent !== words) get('trouble').textContent = words
}

// act does an action; where it is refused the reason is said.
async function act(action) {
  try {
    await link.act(['mark', 'choose'].includes(action.do) ? action : { ...action, version: state.version })
  } catch (refused) { trouble(refused.message); showPanel() }
}

// showDoing shows what may be done here as buttons.
function showDoing() {
  const made = buttons(state, act, 0, 2)
  const key = state.place + made.map(b => b.dataset.do)
  if (get('doing').dataset.key === key) return
  get('doing').dataset.key = key
  get('doing').replaceChildren(...made)
  if (['choose', 'meaning', 'exercise', 'rest'].includes(state.place) && !document.querySelector('dialog[open]')) get('doing').querySelector('button')?.focus()
}

// showPanel shows what stands beside the music, and leaves the focus where it was.
function showPanel() {
  const maker = panels[state.place]
  const made = maker?.(state, act, { asksWhere, askWhere, onMark, listed: !placed(), wantsHints: wishes.hints })
  const panel = get('panel')
  const focused = panel.contains(document.activeElement) ? document.activeElement.dataset.key : null
  const top = panel.scrollTop
  panel.hidden = !made
  panel.replaceChildren(...(made ? [made] : []))
  panel.scrollTop = top
  if (focused) panel.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus()
  sheet?.fit()
}

function askWhere(on) { asksWhere = on; showPanel(); showMarks() }

// laySheet engraves the page when it is another one, or the screen is.
async function laySheet() {
  const page = state.page
  if (!page?.scored) return
  const { width, height } = room()
  const wanted = [page.count, part(), width, height, wishes.size].join(' ')
  if (wanted === laid || width < 50 || height < 50) return
  laid = wanted
  try {
    const text = await link.ask(`page?count=${page.count}&part=${encodeURIComponent(part())}`)
    if (wanted !== laid) return
    if (!text) { laid = ''; return } // there is another page already: the next state tells
    music = text
    if (!state.engraver) { withoutEngraver(); return }
    sheet ??= new Sheet(get('sheet'))
    await layAsLarge(text, width, height, page.count, () => wanted === laid)
    if (wanted !== laid) { laid = ''; laySheet(); return }
    window.stand.warnings = sheet.warnings
    take?.follow(sheet)
    opened()
    showPanel()
    showMarks()
    draw()
  } catch (fault) {
    if (wanted !== laid) return
    laid = ''
    sheet?.clear()
    get('sheet').replaceChildren(make('div', { class: 'notice' }, make('h2', {}, 'This page is not engraved'), make('p', {}, fault.message)))
  }
}

// layAsLarge lays the music as large as the player wants it; where a measure is too wide for
// the line, as large as it goes, and where it leaves most of the screen empty, larger. It
// stops where another page is current by then.
async function layAsLarge(text, width, height, count, current) {
  const engrave = size => engraver.engrave(text, sheet.unitsWide(width, height, size))
  const lay = async (made, size) => { if (current()) await sheet.lay(made, text, width, height, size, count, current) }
  let made, size
  for (const share of [1, 0.9, 0.8, 0.7, 0.62, 0.55]) {
    size = wishes.size * share
    made = await engrave(size)
    if (!made.crowded) break
  }
  await lay(made, size)
  if (!current()) return
  const larger = wishes.size * largerBy(sheet.count, sheet.fill())
  if (made.crowded || size < wishes.size || larger === wishes.size) return
  const more = await engrave(larger)
  if (!more.crowded) await lay(more, larger)
  if (current() && sheet.count > 1) await lay(made, size)
}

// room is the screen for music during a take, in pixels: what else is shown before and after
// makes the music smaller, and never lays it otherwise.
function room() {
  const main = get('main')
  return { width: main.clientWidth, height: main.clientHeight }
}

function withoutEngraver() {
  const file = make('a', { href: `page?count=${state.page.count}&part=${encodeURIComponent(part())}`, download: 'page.musicxml' }, 'the page as MusicXML')
  get('sheet').replaceChildren(make('div', { class: 'notice' },
    make('h2', {}, 'This build has no engraver'),
    make('p', {}, 'Get it once, in the folder of the source, and build again:'),
    make('pre', {}, 'go generate ./cmd/internal/stand\ngo install ./cmd/onward'),
    make('p', {}, 'Until then a notation program shows ', file, '; all else on this stand works.')))
}

// opened says which page lies open.
function opened() {
  if (!sheet?.count) { get('leaf').textContent = ''; return }
  const here = sheet.measures.map((m, i) => [m.leaf, i]).filter(([leaf]) => leaf === sheet.leaf).map(([, i]) => i)
  get('leaf').textContent = sheet.count > 1 && headless[state.place] === undefined ? `page ${sheet.leaf + 1} of ${sheet.count}` : ''
  sheet.svg.removeAttribute('aria-hidden')
  sheet.svg.setAttribute('role', 'img')
  sheet.svg.setAttribute('aria-label', `${get('title').textContent}, page ${sheet.leaf + 1} of ${sheet.count}: ${measureName(state, here[0])} to ${measureName(state, here[here.length - 1])}`)
}

// turn opens the page after or before; false where there is none.
function turn(by) {
  if (!sheet || !sheet.show(sheet.leaf + by)) return false
  if (running()) take.turned(link.clock.now() - take.start)
  turned()
  say(get('leaf').textContent)
  return true
}

function turned() { opened(); showMarks(); if (take) take.hidden = '' }

function showMarks() {
  if (!sheet?.count) return
  if (state.place !== 'slips' && state.place !== 'meaning') {
    for (const b of sheet.over.querySelectorAll('.measure')) b.remove()
    return
  }
  for (const b of sheet.over.querySelectorAll('.cover, .pointer')) b.remove()
  if (placed()) mark(sheet, state, state.place === 'slips', onMark)
}

// placed says that each measure has its place on the sheet.
const placed = () => sheet?.count > 0 && state.marks?.length === sheet.measures.length

function onMark(measure, wanted) {
  if (!asksWhere) { act({ do: 'mark', measure, mark: wanted }); return }
  askWhere(false)
  act({ do: 'stopped', measure })
}

const running = () => take && (state.place === 'count-in' || state.place === 'take')

// followTake asks for the schedule of a take that began.
async function followTake() {
  if (!state.take || state.place !== 'count-in' && state.place !== 'take') { take = null; get('count').hidden = true; tick(); return }
  if (take?.start === state.take.start / 1e6) return
  try {
    const plan = await link.ask('take')
    if (!plan || !state.take) return
    sheet ??= new Sheet(get('sheet'))
    take = new Take(plan, sheet)
  } catch { setTimeout(followTake, 500); return }
  draw()
}

// draw brings the page to this moment, and again at each frame while there is a reason.
function draw() {
  if (drawing) return
  drawing = true
  const frame = () => {
    drawing = false
    if (!running()) { tick(); return }
    const now = link.clock.now()
    if (!Number.isNaN(now)) {
      const here = take.draw(now, wishes.pointer, still.matches)
      if (here.turned) turned()
      countIn(here.count)
    }
    drawing = true
    requestAnimationFrame(frame)
  }
  requestAnimationFrame(frame)
}

function countIn(count) {
  const box = get('count')
  box.hidden = !count
  const key = count ? `${count.number} ${count.beat}` : ''
  if (!count || box.dataset.key === key) return
  box.dataset.key = key
  const words = count.number === 0 ? 'the key' : count.last ? 'then play' : 'counting'
  box.replaceChildren(make('b', {}, count.number === 0 ? '♪' : String(count.beat)), make('span', {}, words))
}

// tick shows how long the look-over, rest or exercise still lasts.
function tick() {
  const left = get('left')
  const now = link.clock.now()
  const text = typeof state.ends !== 'number' || headless[state.place] !== undefined || Number.isNaN(now) ? '' : minutes(state.ends / 1e6 - now)
  if (left.textContent !== text) left.textContent = text
}
setInterval(() => { if (!running()) tick(); else get('left').textContent = '' }, 200)

const partWords = () => state.offer?.instruments?.find(i => i.id === part())?.words ?? part()

const setup = settings({
  onPart(id) {
    const to = new URL(location.href)
    if (id) to.searchParams.set('part', id)
    else to.searchParams.delete('part')
    history.replaceState(null, '', to)
    show(state)
  },
  onWish(key, value) { wish(key, value); showPanel(); laySheet() },
  onLeave() { link.close(); show({ ...state, over: true, left: true, problem: '', may: [] }) },
  onQuit() { act({ do: 'quit' }) },
  onPrint() { if (engraver && music) print(engraver, music).catch(fault => trouble(fault.message)) },
})

pedal({
  forward() {
    if (['look-over', 'count-in', 'take', 'slips', 'meaning', 'exercise'].includes(state.place) && turn(1)) return
    if (state.place === 'look-over' && sheet?.count > 1) { sheet.show(0); turned(); return }
    if (!['look-over', 'count-in', 'take', 'slips'].includes(state.place)) get('doing').querySelector('.main-action')?.click()
  },
  back() { turn(-1) },
  sheetPlace: () => ['look-over', 'count-in', 'take', 'slips'].includes(state.place),
})

get('sheet').addEventListener('click', event => {
  if (state.place === 'slips' || event.target.closest('a, button') || !sheet?.count) return
  turn(event.clientX > innerWidth / 2 ? 1 : -1)
})

let resized = 0
new ResizeObserver(() => {
  sheet?.fit()
  clearTimeout(resized)
  resized = setTimeout(laySheet, 200)
}).observe(get('main'))
new ResizeObserver(() => sheet?.fit()).observe(get('sheet'))
document.addEventListener('fullscreenchange', () => sheet?.fit())
get('full').addEventListener('click', toggleFull)
