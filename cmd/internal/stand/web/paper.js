// The page on paper: each line a drawing of its own, never cut; the last two stay together.
import { drawingOf } from './engraving.js'
import { make } from './make.js'
import { left } from './sheet.js'

const width = 1500 // in the engraver's units: staves of about 8 mm on A4 and Letter

/** print engraves the music for paper and opens the browser's print dialog. */
export async function print(engraver, music) {
  const { defs, music: drawn } = await drawingOf(await engraver.engrave(music, width))
  const paper = make('div', { class: 'paper' })
  document.body.append(paper)
  try {
    lay(paper, defs, drawn)
    window.print()
  } finally { paper.remove() }
}

/** lay lays the lines into an element. */
export function lay(paper, defs, drawn) {
  const space = 'http://www.w3.org/2000/svg'
  const all = document.createElementNS(space, 'svg')
  all.setAttribute('class', 'engraved')
  all.append(defs, drawn)
  paper.append(all)
  const boxes = [...drawn.querySelectorAll('g.system')].map(g => ({ g, box: g.getBBox() }))
  const pieces = boxes.map(({ g, box }) => {
    const svg = document.createElementNS(space, 'svg')
    svg.setAttribute('class', 'engraved')
    svg.setAttribute('viewBox', `${-left} ${box.y - 100} ${width * 10} ${box.height + 300}`)
    const shell = drawn.cloneNode(false)
    shell.removeAttribute('transform')
    shell.append(g)
    svg.append(shell)
    return svg
  })
  all.setAttribute('width', '0')
  all.setAttribute('height', '0')
  const last = make('div', { class: 'together' }, ...pieces.slice(-2))
  paper.append(...pieces.slice(0, -2), last)
}
