// The dialog with what the player wants of this stand.
import { make } from './make.js'
import { awakeWords } from './screen.js'
import { wishes } from './wishes.js'

const get = id => document.getElementById(id)
const sizes = { least: 0.6, most: 1.8, step: 0.1 }

/** settings readies the dialogs; its fill brings them up to date with a state. */
export function settings({ onPart, onWish, onLeave, onQuit, onPrint }) {
  const ground = () => { document.documentElement.dataset.ground = wishes.dark ? 'dark' : 'light' }
  ground()
  get('menu').addEventListener('click', () => get('settings').showModal())
  get('about-open').addEventListener('click', () => { get('settings').close(); get('about').showModal() })
  for (const key of ['dark', 'pointer', 'hints']) {
    get(key).checked = wishes[key]
    get(key).addEventListener('change', event => { onWish(key, event.target.checked); ground() })
  }
  const size = by => {
    onWish('size', Math.min(sizes.most, Math.max(sizes.least, Math.round((wishes.size + by) * 10) / 10)))
    get('size').textContent = `${Math.round(wishes.size * 100)} %`
  }
  size(0)
  get('smaller').addEventListener('click', () => size(-sizes.step))
  get('larger').addEventListener('click', () => size(sizes.step))
  get('part').addEventListener('change', event => onPart(event.target.value))
  get('print').addEventListener('click', () => { get('settings').close(); onPrint() })
  get('leave').addEventListener('click', () => { get('settings').close(); onLeave() })
  get('quit').addEventListener('click', () => { get('settings').close(); onQuit() })
  get('full').hidden = !document.fullscreenEnabled
  get('awake').textContent = awakeWords()
  let filled = ''
  return {
    fill(state, part) {
      get('shared').hidden = !state.shared
      get('quit').hidden = !state.may?.includes('quit')
      get('engraver').textContent = state.engraver ? 'This build carries the engraver.' : 'This build has no engraver: run go generate ./cmd/internal/stand in the source and build again.'
      const all = state.offer?.instruments ?? []
      const key = JSON.stringify([all, part])
      if (key === filled) return
      filled = key
      const own = make('option', { value: '' }, 'the player')
      const others = all.map(i => make('option', { value: i.id }, i.words || i.id))
      if (part && !all.some(i => i.id === part)) others.push(make('option', { value: part }, part))
      get('part').replaceChildren(own, ...others)
      get('part').value = part
    },
  }
}
