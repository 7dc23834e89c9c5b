// Answers questions of music theory with the library tonal, for tests to compare with.
// Reads a JSON list of {ask, args} on standard input and writes the list of answers.
// ONWARD_NODE_MODULES names the node_modules folder that holds tonal.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const require = createRequire(process.env.ONWARD_NODE_MODULES + "/");
const { Chord, Key, Note, Scale } = require("tonal");

const answers = {
  scale: (name) => Scale.get(name).notes.join(" "),
  majorSignature: (tonic) => Key.majorKey(tonic).keySignature,
  minorSignature: (tonic) => Key.minorKey(tonic).keySignature,
  majorTriads: (tonic) => Key.majorKey(tonic).triads.join(" "),
  dominantOfMajor: (tonic) => Key.majorKey(tonic).chords[4],
  dominantOfMinor: (tonic) => Key.minorKey(tonic).harmonic.chords[4],
  majorAlteration: (tonic) => String(Key.majorKey(tonic).alteration),
  minorAlteration: (tonic) => String(Key.minorKey(tonic).alteration),
  chord: (symbol) => Chord.get(symbol).notes.join(" "),
  chordChroma: (symbol) => Chord.get(symbol).notes.map(Note.chroma).join(" "),
  transpose: (pitch, interval) => Note.transpose(pitch, interval),
  // A key that no signature has is read as the one that sounds the same: G-sharp major as A-flat major.
  keyMoved: (tonic, mode, interval) => {
    const moved = Note.transpose(tonic, interval);
    const { alteration } = mode === "major" ? Key.majorKey(moved) : Key.minorKey(moved);
    return (Math.abs(alteration) > 7 ? Note.enharmonic(moved) : moved) + " " + mode;
  },
  midi: (pitch) => String(Note.midi(pitch)),
};

const questions = JSON.parse(readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(questions.map(({ ask, args }) => answers[ask](...args))));
