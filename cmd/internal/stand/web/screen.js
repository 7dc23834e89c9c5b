// What the stand asks of the screen: to stay on, and to be full.

let lock = null, wanted = false

/** keepAwake asks that the screen stays on, or lets it go. */
export async function keepAwake(on) {
  wanted = on
  if (!on) { lock?.release(); lock = null; return }
  if (lock && !lock.released || document.hidden || !navigator.wakeLock) return
  try { lock = await navigator.wakeLock.request('screen') } catch { lock = null }
}

document.addEventListener('visibilitychange', () => { if (wanted && !document.hidden) keepAwake(true) })

/** awakeWords says whether the screen stays on. */
export function awakeWords() {
  if (navigator.wakeLock) return 'The screen stays on from the look-over to the end of the take.'
  return 'This browser does not let a page from another machine keep the screen on: set your screen to stay on before you play.'
}

/** toggleFull makes the page fill the screen, or no longer. */
export function toggleFull() {
  if (document.fullscreenElement) document.exitFullscreen()
  else document.documentElement.requestFullscreen?.().catch(() => {})
}
