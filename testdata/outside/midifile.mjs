// Reads Standard MIDI Files with the npm package midi-file, which shares no code with
// this project, and prints one line of JSON to each file: what its tracks play and
// what it says of tempo, meter, key and places. Times are ticks from the start.
//
//   node midifile.mjs FILE...     or file names on standard input, a line to each
import { readFileSync } from 'node:fs'
import midiFile from 'midi-file'

function readTrack(events, song) {
  const track = { name: '', notes: [], programs: [], controllers: [], unclosed: 0, unopened: 0, end: 0 }
  const open = new Map()
  let at = 0
  for (const e of events) {
    at += e.deltaTime
    const key = e.channel * 128 + e.noteNumber
    switch (e.type) {
      case 'trackName': track.name = e.text; break
      case 'text': song.texts.push({ at, text: e.text }); break
      case 'marker': song.markers.push({ at, text: e.text }); break
      case 'setTempo': song.tempos.push({ at, micros: e.microsecondsPerBeat }); break
      case 'timeSignature': song.meters.push({ at, beats: e.numerator, unit: e.denominator }); break
      case 'keySignature': song.keys.push({ at, fifths: e.key, minor: e.scale === 1 }); break
      case 'programChange': track.programs.push({ at, channel: e.channel, program: e.programNumber }); break
      case 'controller': track.controllers.push({ at, channel: e.channel, controller: e.controllerType, value: e.value }); break
      case 'noteOn':
        if (open.has(key)) track.unclosed++
        open.set(key, { at, end: -1, channel: e.channel, key: e.noteNumber, velocity: e.velocity })
        track.notes.push(open.get(key))
        break
      case 'noteOff':
        if (open.has(key)) open.get(key).end = at
        else track.unopened++
        open.delete(key)
        break
    }
  }
  track.unclosed += open.size
  track.end = at
  return track
}

function readSong(file) {
  const midi = midiFile.parseMidi(readFileSync(file))
  const song = {
    file, format: midi.header.format, division: midi.header.ticksPerBeat,
    texts: [], markers: [], tempos: [], meters: [], keys: [],
  }
  song.tracks = midi.tracks.map((events) => readTrack(events, song))
  return song
}

let files = process.argv.slice(2)
if (files.length === 0) files = readFileSync(0, 'utf8').split('\n').filter((line) => line !== '')
for (const file of files) console.log(JSON.stringify(readSong(file)))
