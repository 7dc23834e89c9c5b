// What stands beside or below the music in each place. Each makes elements from the state;
// act does an action.
import { list, make } from './make.js'

const button = (text, onclick, more = {}) => make('button', { type: 'button', onclick, ...more }, text)

/** labels are the buttons of each place, the main one first: [action, words]. The first two
 * stand at the head, the others in the panel. */
export const labels = {
  choose: [['start', 'Start'], ['record', 'Record']],
  making: [],
  'look-over': [['go', 'Count in'], ['offer', 'Back']],
  'count-in': [['leave', 'Leave']],
  take: [['leave', 'Leave']],
  slips: [['keep', 'Done']],
  meaning: [['start', 'Next read'], ['drill', 'Drill it'], ['again', 'Once more'], ['offer', 'Choose'], ['record', 'Record']],
  exercise: [['go', 'On']],
  rest: [['go', 'On']],
  record: [['offer', 'Back']],
}

// ofTheDay are those of what it means while a day's plan is followed: on with it comes first.
const ofTheDay = [['offer', 'On with the day'], ['drill', 'Drill it'], ['start', 'Next read'], ['again', 'Once more'], ['record', 'Record']]

const labelsOf = state => state.place === 'meaning' && state.offer?.plan?.length ? ofTheDay : labels[state.place] ?? []

/** panels are the makers, by place: (state, act, stand) to an element, null for none. */
export const panels = {
  waiting: () => words(make('p', {}, 'Waiting for the program …')),
  making: () => words(make('p', { class: 'large' }, 'The page is being written …')),
  over: state => words(make('p', { class: 'large' }, state.left ? 'This stand is left. The practice goes on where it was started.' : 'The practice is over.'),
    state.left ? button('Open it again', () => location.reload(), { 'data-key': 'reopen' }) : null),
  'look-over': (state, act, stand) => state.page && stand.wantsHints ? make('div', {}, hints(state.page), caution(state)) : null,
  slips: (state, act, stand) => slips(state, act, stand),
  meaning, choose,
  exercise: state => words(...(state.page?.lines ?? []).map(l => make('p', { class: state.page.scored ? '' : 'large' }, l))),
  rest: state => words(make('h2', {}, state.page?.title ?? 'Rest'), ...(state.page?.lines ?? []).map(l => make('p', { class: 'large' }, l))),
  record: state => make('pre', { class: 'record', tabIndex: 0 }, state.record?.length ? state.record.join('\n') : 'Nothing is kept yet: takes stand here once you have marked them.'),
}

/** buttons makes the buttons of a place from the one at from to the one ahead of to. */
export function buttons(state, act, from, to) {
  return labelsOf(state).filter(([verb]) => state.may.includes(verb)).slice(from, to).map(([verb, text], i) =>
    button(text, verb === 'leave' ? leaving(act) : () => act({ do: verb }), { class: from === 0 && i === 0 && verb !== 'leave' ? 'main-action' : '', 'data-do': verb, 'data-key': verb }))
}

const sure = 4000 // ms in which to say again that one leaves

// leaving leaves a take at the second press: a sleeve on the screen is not enough.
function leaving(act) {
  let asked = -Infinity
  return event => {
    const pressed = event.currentTarget, words = pressed.textContent
    if (performance.now() - asked < sure) { act({ do: 'leave' }); return }
    asked = performance.now()
    pressed.textContent = 'Leave it?'
    setTimeout(() => { pressed.textContent = words }, sure)
  }
}

function more(state, act) {
  const made = buttons(state, act, 2)
  return made.length ? make('p', { class: 'row' }, made) : null
}

function words(...children) { return make('div', { class: 'words' }, ...children) }

// caution says what it means that other machines reach the stand; null where none does.
function caution(state) {
  return state.shared ? make('p', { class: 'quiet caution' }, document.getElementById('shared').textContent) : null
}

function hints(page) {
  return make('div', {}, make('h2', {}, 'Look for'),
    make('dl', { class: 'hints' }, (page.hints ?? []).map(h => make('div', {}, make('dt', {}, h.word), make('dd', {}, h.text)))))
}

/** slipWords says in words what became of a measure. */
export function slipWords(mark) {
  if (!mark || !mark.pitch && !mark.rhythm) return 'as written'
  return mark.pitch && mark.rhythm ? 'pitch and rhythm slipped' : mark.pitch ? 'pitch slipped' : 'rhythm slipped'
}

/** nextMark is the mark that a tap makes of one: pitch, rhythm, both, none. */
export function nextMark({ pitch, rhythm }) {
  if (pitch && rhythm) return { pitch: false, rhythm: false }
  if (pitch) return { pitch: false, rhythm: true }
  return rhythm ? { pitch: true, rhythm: true } : { pitch: true, rhythm: false }
}

function slips(state, act, stand) {
  const stopped = state.stopped >= 0
  const where = stopped ? measureName(state, state.stopped) : ''
  const many = (state.marks ?? []).filter(m => m.pitch || m.rhythm).length
  return make('div', { class: 'marking' },
    make('h2', {}, 'What slipped?'),
    make('p', {}, stand.asksWhere ? 'Tap the measure where you stopped.' : 'Tap a measure: P pitch, R rhythm, P R both. Tap on to change it.'),
    make('p', {}, `${many} of ${state.marks?.length ?? 0} marked`),
    make('span', { class: 'pair', role: 'group', 'aria-label': 'How the take went' },
      button('Kept going', () => { stand.askWhere(false); act({ do: 'kept' }) }, { 'aria-pressed': String(!stopped && !stand.asksWhere), 'data-key': 'kept' }),
      button(stopped ? `Stopped at ${where}` : 'Stopped at …', () => stand.askWhere(!stand.asksWhere), { 'aria-pressed': String(stopped || stand.asksWhere), 'data-key': 'stopped' })),
    stand.listed ? numbers(state, stand) : null,
    make('ul', { class: 'spoken' }, (state.take?.words ?? []).map(w => make('li', {}, w))))
}

// numbers is the measures as a list of buttons, where there is no music to tap on.
function numbers(state, stand) {
  return make('div', { class: 'numbers', role: 'group', 'aria-label': 'Measures' }, (state.marks ?? []).map((m, i) => {
    const number = state.page?.measures?.[i]?.number
    const slip = m.pitch && m.rhythm ? 'P R' : m.pitch ? 'P' : m.rhythm ? 'R' : ''
    return button(`${number === 0 ? '↑' : number ?? i + 1}${slip && ` ${slip}`}`, () => stand.onMark(i, nextMark(m)), {
      'aria-label': `${measureName(state, i)}: ${slipWords(m)}${state.stopped === i ? ', stopped here' : ''}`, 'aria-pressed': String(m.pitch || m.rhythm), 'data-key': `measure-${i}`,
    })
  }))
}

/** measureName names a measure as it is printed. */
export function measureName(state, index) {
  const m = state.page?.measures?.[index]
  return !m ? `measure ${index + 1}` : m.number === 0 ? 'the upbeat' : `measure ${m.number}`
}

function meaning(state, act) {
  const l = state.lesson
  if (!l) return words(make('p', {}, '…'))
  return words(
    make('h2', {}, 'What it means'),
    make('p', { class: 'score-line' }, `${l.right} of ${l.of} measures as written`),
    list(l.lines),
    l.figures?.length ? make('h3', {}, 'Behind the slips') : null,
    l.figures?.length ? make('ul', {}, l.figures.map(f => make('li', {}, `${f.name}: ${f.notes?.join(' ') ?? ''} (${f.rhythm}), measure ${f.measures?.join(', ') ?? ''}`))) : null,
    l.traps?.length ? make('h3', {}, 'Traps on this page') : null, list(l.traps),
    state.take?.words?.length ? make('h3', {}, 'The take') : null, list(state.take?.words),
    make('h3', {}, 'Next'), list(l.why), more(state, act), caution(state))
}

function choose(state, act) {
  const { offer, choice } = state
  if (!offer) return words(make('p', {}, 'Asking the journal …'))
  const put = change => act({ do: 'choose', choice: { ...choice, ...change } })
  const select = (key, items, value, to = v => v) => make('select', { id: `choose-${key}`, 'data-key': key, onchange: e => put({ [key]: to(e.target.value) }) },
    items.map(i => make('option', { value: i.value, selected: i.value === value }, i.words)))
  const field = (key, text, control) => [make('label', { for: `choose-${key}` }, text), control]
  const named = items => (items ?? []).map(i => ({ value: i.id, words: i.words || i.id }))
  const explained = items => named(items).map(i => ({ ...i, words: i.words === i.value ? i.value : `${i.value}: ${i.words}` }))
  const read = choice.kind === 'read'
  const pressure = choice.pressure ?? []
  return words(
    caution(state),
    offer.plan?.length ? plan(state, act) : null,
    list(offer.why),
    read ? make('fieldset', {}, make('legend', {}, 'Style'), make('div', { class: 'choices' },
      explained(offer.styles).map(s => make('label', {}, make('input', {
        type: 'radio', name: 'style', value: s.value, checked: choice.style === s.value, 'data-key': `style-${s.value}`,
        onchange: () => act({ do: 'choose', choice: { ...(offer.by_style?.[s.value] ?? choice), style: s.value } }),
      }), s.words)))) : null,
    make('div', { class: 'fields' },
      read ? field('rung', 'Rung', select('rung', named(offer.rungs).map((r, i) => ({ value: String(i + 1), words: r.words.startsWith(`${i + 1}`) ? r.words : `${i + 1}  ${r.words}` })), String(choice.rung), Number)) : [],
      field('instrument', 'Instrument', select('instrument', named(offer.instruments), choice.instrument)),
      read ? field('percent', 'Tempo', select('percent', [100, 95, 90, 85, 80, 75, 70, 60, 50].map(p => ({ value: String(p), words: p === 100 ? 'as on the page' : `${p} % of it` })), String(choice.percent || 100), Number)) : []),
    read && offer.pressures?.length ? make('fieldset', {}, make('legend', {}, 'Pressure, if you like'), make('div', { class: 'choices' },
      explained(offer.pressures).map(p => make('label', {}, make('input', {
        type: 'checkbox', checked: pressure.includes(p.value), 'data-key': `pressure-${p.value}`,
        onchange: e => put({ pressure: e.target.checked ? [...pressure, p.value] : pressure.filter(v => v !== p.value) }),
      }), p.words)))) : null)
}

function plan(state, act) {
  return make('fieldset', {}, make('legend', {}, 'Today'), make('ol', { class: 'plan' }, state.offer.plan.map(({ title, why, done }, i) => {
    const now = i === state.step
    return make('li', {}, button(`${done ? '✓ ' : ''}${title}`, () => act({ do: 'step', step: now ? -1 : i }), { 'aria-pressed': String(now), 'data-key': `step-${i}` }),
      make('span', {}, `${why ?? ''}${done ? ' (done)' : ''}`))
  })))
}

