// What the player wants of this stand. It is kept in this browser alone.

const usual = { dark: false, size: 1, pointer: false, hints: true }
const name = 'stand'

/** wishes are the player's. */
export const wishes = { ...usual, ...read() }

function read() {
  try {
    const kept = JSON.parse(localStorage.getItem(name)) ?? {}
    return Object.fromEntries(Object.entries(kept).filter(([k, v]) => typeof v === typeof usual[k]))
  } catch { return {} }
}

/** wish changes one. */
export function wish(key, value) {
  wishes[key] = value
  try { localStorage.setItem(name, JSON.stringify(wishes)) } catch { /* not kept, then */ }
}
