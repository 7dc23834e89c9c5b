// Asks the engraver for music and makes it safe to show.

/** An Engraver engraves one page after the other. */
export class Engraver {
  constructor() {
    this.asked = new Map()
    this.count = 0
    this.process = new Worker('engraver.process.js', { type: 'module' })
    this.process.onmessage = ({ data }) => {
      const { done, fail } = this.asked.get(data.id)
      this.asked.delete(data.id)
      if (data.fault) fail(new Error(data.fault))
      else done(data)
    }
    this.process.onerror = event => {
      for (const { fail } of this.asked.values()) fail(new Error(event.message || 'the engraver does not start in this browser'))
      this.asked.clear()
    }
  }

  /** engrave reports {svg, measures, warnings} for MusicXML and a width in the engraver's units. */
  engrave(music, width) {
    const id = ++this.count
    return new Promise((done, fail) => {
      this.asked.set(id, { done, fail })
      this.process.postMessage({ id, music, width })
    })
  }
}

/** unitsPerStaff is the height of a staff in the engraver's units. */
export const unitsPerStaff = 72

const elements = new Set(['svg', 'g', 'path', 'text', 'tspan', 'use', 'polygon', 'polyline', 'ellipse', 'circle', 'rect', 'line', 'symbol', 'defs'])
const attributes = new Set(['id', 'class', 'transform', 'd', 'x', 'y', 'x1', 'x2', 'y1', 'y2', 'cx', 'cy', 'r', 'rx', 'ry', 'width', 'height', 'points',
  'viewBox', 'fill', 'fill-opacity', 'stroke', 'stroke-width', 'stroke-linecap', 'stroke-linejoin', 'stroke-dasharray', 'stroke-opacity',
  'font-size', 'font-family', 'font-style', 'font-weight', 'text-anchor', 'href', 'color', 'overflow'])

// clean takes away all but drawing: what a file has put into its words stays words.
function clean(element) {
  for (const child of [...element.children]) {
    if (elements.has(child.localName) && child.namespaceURI === 'http://www.w3.org/2000/svg') clean(child)
    else child.remove()
  }
  for (const a of [...element.attributes]) {
    const inside = a.localName !== 'href' || a.value.startsWith('#')
    if (!attributes.has(a.localName) || !inside) element.removeAttributeNode(a)
  }
}

/**
 * drawingOf reports the engraver's music as {defs, music}: what is drawn again and again, and
 * the group with all lines. The text font that it carries is made known to the page.
 */
export async function drawingOf({ svg, style }) {
  const parsed = new DOMParser().parseFromString(svg, 'image/svg+xml').documentElement
  if (parsed.localName !== 'svg') throw new Error('the engraver made no drawing')
  await knowFont(style)
  clean(parsed)
  const music = parsed.querySelector('g.page-margin')
  if (!music) throw new Error('the engraver drew no music')
  return { defs: parsed.querySelector('defs'), music }
}

let font = null

// knowFont loads the font of music signs in text, once: from memory, so that no font may come
// from an address.
function knowFont(style) {
  const packed = /font-family:\s*'Leipzig';\s*src:\s*url\(data:[^,]*;base64,([^)]+)\)/.exec(style)
  if (!packed || font) return font
  const bytes = Uint8Array.from(atob(packed[1]), c => c.charCodeAt(0))
  font = new FontFace('Leipzig', bytes).load().then(f => { document.fonts.add(f) }, () => {})
  return font
}
