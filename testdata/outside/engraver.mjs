// engraver.mjs [--played] FILE.musicxml...: how an independent engraver plays each file. Prints one line of JSON for each:
// the notes in order of time as [onset in quarters, MIDI number as it sounds], tied notes as one, repeats not unfolded.
// Onsets are rounded to 1/120 of a quarter; grace notes have a timing of the engraver's own.
// With --played repeats are played, onsets are exact, and each note says 1 for a grace note, else 0. Where the engraver
// plays grace notes on the beat, the first of them stands at the onset of the note they lead to, and that note is later.
// With --whole repeats are played, and the notes are those of all parts, as without it, not rounded.
import { createRequire } from 'node:module'
import fs from 'node:fs'

const require = createRequire(import.meta.url)
const verovio = require('verovio'), midi = require('midi-file')
await new Promise(done => { verovio.module.calledRun ? done() : (verovio.module.onRuntimeInitialized = done) })
const engraver = new verovio.toolkit()

// struck lists the notes that the engraver's own MIDI file begins.
function struck() {
  const { header, tracks } = midi.parseMidi(Buffer.from(engraver.renderToMIDI(), 'base64'))
  const notes = []
  for (const track of tracks) {
    let at = 0
    for (const e of track) {
      at += e.deltaTime
      if (e.type === 'noteOn' && e.velocity > 0) notes.push([at / header.ticksPerBeat, e.noteNumber])
    }
  }
  return notes.sort((a, b) => a[0] - b[0])
}

// played lists the notes of the engraver's map of times, which is exact but knows written pitches only, with the pitches of
// its MIDI file. A note that the file does not begin is tied to the note before, and left out.
function played() {
  const begun = struck(), notes = []
  let sounds // semitones from written to sounding pitch
  for (const { qstamp, on } of engraver.renderToTimemap({})) {
    for (const id of on ?? []) {
      const written = engraver.getMIDIValuesForElement(id).pitch
      sounds ??= begun[0][1] - written
      const k = begun.findIndex(n => n[1] === written + sounds && Math.abs(n[0] - qstamp) < 1.5 / 120)
      if (k < 0) continue
      begun.splice(k, 1)
      notes.push([qstamp, written + sounds, engraver.getElementAttr(id).grace ? 1 : 0])
    }
  }
  if (begun.length > 0) throw new Error(`notes with no place in the map of times: ${JSON.stringify(begun)}`)
  return notes
}

const files = process.argv.slice(2)
const mode = files[0].startsWith('--') ? files.shift() : ''
engraver.setOptions(mode !== '' ? { expandAlways: true } : { expandNever: true })
for (const file of files) {
  if (!engraver.loadData(fs.readFileSync(file, 'utf8'))) {
    console.error(`${file}: the engraver cannot read it`)
    process.exit(1)
  }
  console.log(JSON.stringify(mode === '--played' ? played() : struck()))
}
