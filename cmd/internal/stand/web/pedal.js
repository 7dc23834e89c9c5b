// Keys and foot pedals, which send the same page keys.

const onward = new Set(['PageDown', 'ArrowRight', 'ArrowDown', ' '])
const backward = new Set(['PageUp', 'ArrowLeft', 'ArrowUp'])

/**
 * pedal has forward and back called for page keys. Where there is a form to fill, or text to
 * scroll, only the page keys themselves count: sheetPlace says where the others do, too.
 */
export function pedal({ forward, back, sheetPlace }) {
  document.addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || document.querySelector('dialog[open]')) return
    const page = event.key === 'PageDown' || event.key === 'PageUp'
    const busy = event.target.closest?.('select, input, textarea') || event.key === ' ' && event.target.closest?.('button, a')
    if (!page && (busy || !sheetPlace())) return
    if (onward.has(event.key)) forward()
    else if (backward.has(event.key)) back()
    else return
    event.preventDefault()
  })
}
