// page.mjs FILE.musicxml OUT.png: makes the README's picture of a page. From this folder:
//   npm ci --prefix ../outside && node page.mjs page.musicxml page.png
// Needs chromium, in which the note of the metronome mark shows, and imagemagick; the
// environment may name the browser as CHROMIUM.
import { execFileSync } from 'node:child_process'
import { createRequire } from 'node:module'
import fs from 'node:fs'
import os from 'node:os'
import path from 'node:path'

const width = 900, scale = 38
const [file, out] = process.argv.slice(2)
if (!file || !out) {
  console.error('usage: node page.mjs FILE.musicxml OUT.png')
  process.exit(2)
}
const verovio = createRequire(new URL('../outside/', import.meta.url))('verovio')
await new Promise(done => { verovio.module.calledRun ? done() : (verovio.module.onRuntimeInitialized = done) })
const engraver = new verovio.toolkit()
engraver.setOptions({
  pageWidth: width * 100 / scale, adjustPageHeight: true, scale, breaks: 'encoded', footer: 'none', minLastJustification: 0,
})
if (!engraver.loadData(fs.readFileSync(file, 'utf8'))) {
  console.error(`${file}: the engraver cannot read it`)
  process.exit(1)
}
const svg = engraver.renderToSVG(1)
const height = Math.ceil(Number(/height="([\d.]+)px"/.exec(svg)[1]))
const room = fs.mkdtempSync(path.join(os.tmpdir(), 'page-'))
const page = path.join(room, 'page.html'), shot = path.join(room, 'page.png')
fs.writeFileSync(page, `<!doctype html><meta charset="utf-8"><style>body { margin: 0; background: white }</style>${svg}`)
execFileSync(process.env.CHROMIUM ?? 'chromium', ['--headless', '--no-sandbox', '--disable-gpu', '--disable-background-networking',
  `--user-data-dir=${path.join(room, 'browser')}`, '--hide-scrollbars', `--window-size=${width},${height}`,
  `--screenshot=${shot}`, 'file://' + page], { stdio: 'ignore' })
execFileSync('convert', [shot, '-colorspace', 'gray', '+dither', '-colors', '32', out])
fs.rmSync(room, { recursive: true, force: true })
