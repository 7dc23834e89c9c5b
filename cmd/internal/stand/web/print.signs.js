// Music signs in words, such as the note of a metronome mark, as outlines: a file that others
// open needs no font for them.
const space = 'http://www.w3.org/2000/svg'
const signFont = 'Leipzig'
const perSquare = 1000 // units of an outline to the font's size

/** outlined puts outlines in place of music signs in the words of a drawing, and adds them to its defs. */
export async function outlined(drawing, defs, toolkit) {
  const texts = [...drawing.querySelectorAll('text')].filter(t => t.querySelector(`tspan[font-family="${signFont}"]`))
  const codes = new Set(texts.flatMap(t => [...t.querySelectorAll(`tspan[font-family="${signFont}"]`)].flatMap(s => [...s.textContent].filter(isSign).map(codeOf))))
  if (codes.size === 0) return
  const ids = outlinesOf([...codes], toolkit, defs)
  await document.fonts.ready
  for (const t of texts) outline(t, ids)
}

function isSign(sign) { return sign.trim() !== '' }

function codeOf(sign) { return sign.codePointAt(0).toString(16).toUpperCase() }

// outlinesOf has the engraver draw each sign as the head of a note, and takes its outline.
function outlinesOf(codes, toolkit, defs) {
  const notes = codes.map(c => `<note dur="4" oct="4" pname="c" stem.visible="false" head.shape="#x${c}"/>`).join('')
  const mei = '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><scoreDef><staffGrp><staffDef n="1" lines="5" clef.shape="G" clef.line="2"/></staffGrp></scoreDef>' +
    `<section><measure n="1"><staff n="1"><layer n="1">${notes}</layer></staff></measure></section></score></mdiv></body></music></mei>`
  if (!toolkit.loadData(mei)) return new Map()
  const drawn = new DOMParser().parseFromString(toolkit.renderToSVG(1), 'image/svg+xml')
  const ids = new Map()
  for (const code of codes) {
    const symbol = [...drawn.querySelectorAll('defs > *')].find(d => d.id.startsWith(code + '-') || d.id === code)
    if (!symbol) continue
    const own = document.importNode(symbol, true)
    own.id = `sign-${code}`
    defs.append(own)
    ids.set(code, own.id)
  }
  return ids
}

// outline replaces the signs of a text; the words beside them stay where they are.
function outline(text, ids) {
  const pieces = [...text.querySelectorAll('tspan')].filter(s => s.children.length === 0 && s.textContent.trim() !== '')
  for (const span of pieces) span.textContent = span.textContent.replaceAll(' ', '\u00a0') // spaces at the edges count
  const found = pieces.map(span => ({
    span, size: parseFloat(getComputedStyle(span).fontSize), isSigns: span.getAttribute('font-family') === signFont,
    at: Array.from({ length: span.textContent.length }, (_, i) => span.getStartPositionOfChar(i)),
  }))
  for (const { span, size, isSigns, at } of found) {
    const words = span.textContent.replaceAll('\u00a0', ' ')
    if (isSigns) drawSigns(text, span, ids, at, size)
    else {
      const start = at[words.length - words.trimStart().length]
      span.setAttribute('x', start.x)
      span.setAttribute('y', start.y)
      span.textContent = words.trim()
    }
  }
}

function drawSigns(text, span, ids, at, size) {
  const signs = [...span.textContent].map((sign, i) => ({ id: ids.get(codeOf(sign)), at: at[i], drawn: isSign(sign) })).filter(s => s.drawn)
  if (!signs.every(s => s.id)) return
  for (const { id, at } of signs) {
    const use = document.createElementNS(space, 'use')
    use.setAttribute('href', `#${id}`)
    use.setAttribute('transform', `translate(${at.x} ${at.y}) scale(${size / perSquare})`)
    text.after(use)
  }
  span.remove()
}
