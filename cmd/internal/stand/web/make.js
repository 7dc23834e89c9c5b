// Makes elements. Words are always words: nothing is read as markup.

/** make makes an element with properties, on... listeners and data- and aria- attributes, and children. */
export function make(name, properties = {}, ...children) {
  const element = document.createElement(name)
  for (const [key, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value)
    else if (key === 'class') element.className = value
    else if (key.includes('-') || key === 'role' || key === 'for') element.setAttribute(key, value)
    else element[key] = value
  }
  element.append(...children.flat().filter(c => c !== null && c !== undefined && c !== ''))
  return element
}

/** list makes a list of lines, null of none. */
export function list(lines) { return lines?.length ? make('ul', {}, lines.map(l => make('li', {}, l))) : null }

/** minutes writes milliseconds as 0:30. */
export function minutes(ms) {
  const s = Math.max(0, Math.ceil(ms / 1000))
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`
}
