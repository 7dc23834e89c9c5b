// The measures as buttons over the music: which slipped, by touch and by keys.
import { make } from './make.js'
import { measureName, nextMark, slipWords } from './panels.js'

const keys = { p: { pitch: true, rhythm: false }, r: { pitch: false, rhythm: true }, b: { pitch: true, rhythm: true }, 0: { pitch: false, rhythm: false } }

/**
 * mark lays a button over each measure of the open page, or brings those that lie there up
 * to date. on is called with a measure and its new mark, null for a tap that asks where.
 */
export function mark(sheet, state, may, on) {
  const kept = new Map([...sheet.over.querySelectorAll('.measure')].map(b => [Number(b.dataset.measure), b]))
  let first = true
  sheet.measures.forEach((m, i) => {
    const old = kept.get(i)
    if (m.leaf !== sheet.leaf) { old?.remove(); return }
    const button = old ?? lay(sheet, i)
    const mark = state.marks?.[i] ?? { pitch: false, rhythm: false }
    const stopped = state.stopped === i
    const slip = mark.pitch && mark.rhythm ? 'both' : mark.pitch ? 'pitch' : mark.rhythm ? 'rhythm' : ''
    if (slip) button.dataset.slip = slip
    else delete button.dataset.slip
    button.toggleAttribute('data-stopped', stopped)
    button.setAttribute('aria-label', `${measureName(state, i)}: ${slipWords(mark)}${stopped ? ', stopped here' : ''}`)
    button.replaceChildren(...(slip ? [make('span', { 'aria-hidden': 'true' }, { pitch: 'P', rhythm: 'R', both: 'P R' }[slip])] : []),
      ...(stopped ? [make('em', { 'aria-hidden': 'true' }, 'stopped')] : []))
    button.disabled = !may
    button.tabIndex = first ? 0 : -1
    first = false
    button.onclick = () => on(i, nextMark(mark))
    button.onkeydown = event => {
      const wanted = keys[event.key.toLowerCase()]
      if (wanted && !event.ctrlKey && !event.metaKey && !event.altKey) on(i, wanted)
      else if (event.key === 'ArrowRight' || event.key === 'ArrowLeft') step(sheet, i, event.key === 'ArrowRight' ? 1 : -1)
      else return
      event.preventDefault()
      event.stopPropagation()
    }
    kept.delete(i)
  })
}

function lay(sheet, i) {
  const button = make('button', { type: 'button', class: 'measure', 'data-measure': i })
  sheet.place(button, i)
  sheet.over.append(button)
  return button
}

// step goes to the measure beside, on this page.
function step(sheet, i, by) {
  const next = sheet.over.querySelector(`.measure[data-measure="${i + by}"]`)
  if (!next) return
  for (const b of sheet.over.querySelectorAll('.measure')) b.tabIndex = -1
  next.tabIndex = 0
  next.focus()
}
