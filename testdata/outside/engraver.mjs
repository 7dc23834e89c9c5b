// engraver.mjs FILE.musicxml...: how an independent engraver plays each file. Prints one line of JSON for each: the notes
// in order of time as [onset in quarters, MIDI number as it sounds], tied notes as one, repeats not unfolded. Onsets are
// rounded to 1/120 of a quarter; grace notes have a timing of the engraver's own.
import { createRequire } from 'node:module'
import fs from 'node:fs'

const require = createRequire(import.meta.url)
const verovio = require('verovio'), midi = require('midi-file')
await new Promise(done => { verovio.module.calledRun ? done() : (verovio.module.onRuntimeInitialized = done) })
const engraver = new verovio.toolkit()
engraver.setOptions({ expandNever: true })
for (const file of process.argv.slice(2)) {
  if (!engraver.loadData(fs.readFileSync(file, 'utf8'))) {
    console.error(`${file}: the engraver cannot read it`)
    process.exit(1)
  }
  const { header, tracks } = midi.parseMidi(Buffer.from(engraver.renderToMIDI(), 'base64'))
  const notes = []
  for (const track of tracks) {
    let at = 0
    for (const e of track) {
      at += e.deltaTime
      if (e.type === 'noteOn' && e.velocity > 0) notes.push([at / header.ticksPerBeat, e.noteNumber])
    }
  }
  console.log(JSON.stringify(notes.sort((a, b) => a[0] - b[0])))
}
