package musicxml

import (
	"strconv"
	"strings"

	"onward/theory"
)

// instruments are what the notes of one part may be played with.
type instruments struct {
	part string
	list []instrument
	used []PieceInstrument // each program once, percussion once
}

// An instrument is one score-instrument. key is what percussion strikes, -1 for not said.
type instrument struct {
	id         string
	at         int // into used
	percussion bool
	key        int
}

// drumChannel is the MIDI channel of percussion, counted from 1 (General MIDI 1).
const drumChannel = 10

// readInstruments takes the instruments of a part: a General MIDI program where the file
// gives one, else by the instrument's name, else by the part's. A part of unpitched notes
// becomes percussion as they come.
func readInstruments(part string, info *element) instruments {
	ins := instruments{part: part}
	midi := map[string]*element{}
	for _, m := range info.all("midi-instrument") {
		midi[m.attr("id")] = m
	}
	for i, s := range info.all("score-instrument") {
		if i == maxPlayers {
			break
		}
		m := midi[s.attr("id")]
		if m == nil {
			m = &element{}
		}
		in := instrument{id: s.attr("id"), key: -1}
		name := oneLine(s.word("instrument-name"))
		channel, _ := strconv.Atoi(m.word("midi-channel"))
		if key, err := strconv.Atoi(m.word("midi-unpitched")); err == nil && key >= 1 && key <= 128 {
			in.key = key - 1
		}
		in.percussion = channel == drumChannel || in.key >= 0
		if in.percussion && in.key < 0 {
			if key, known := drumOf(name); known {
				in.key = key
			}
		}
		program, err := strconv.Atoi(m.word("midi-program"))
		known := err == nil && program >= 1 && program <= 128
		program--
		if !known {
			if program, known = programOf(s.word("instrument-sound")); !known {
				if program, known = programOf(name); !known {
					program = unknownProgram
				}
			}
		}
		in.at = ins.use(PieceInstrument{ID: in.id, Name: name, Program: program, Percussion: in.percussion})
		ins.list = append(ins.list, in)
	}
	return ins
}

// unknownProgram is a program until the part's name and staves settle it.
const unknownProgram = -1

// use reports the place of an instrument that sounds like this one, added if there is none.
func (ins *instruments) use(in PieceInstrument) int {
	if in.Percussion {
		in.Program = 0
	}
	for i, u := range ins.used {
		if u.Percussion == in.Percussion && u.Program == in.Program {
			return i
		}
	}
	ins.used = append(ins.used, in)
	return len(ins.used) - 1
}

// of finds the instrument of a note; one that names none has the first.
func (ins *instruments) of(id string) instrument {
	for _, in := range ins.list {
		if in.id == id {
			return in
		}
	}
	if len(ins.list) > 0 {
		return ins.list[0]
	}
	in := instrument{key: -1}
	in.at = ins.use(PieceInstrument{Program: unknownProgram})
	return in
}

// unpitched reports what a note without pitch strikes: its instrument's key, or by its
// name, or by the part's, or a side drum.
func (ins *instruments) unpitched(in instrument) (key uint8, at int) {
	at = ins.use(PieceInstrument{Percussion: true})
	if in.key >= 0 {
		return uint8(in.key), at
	}
	if k, known := drumOf(ins.part); known {
		return uint8(k), at
	}
	return sideDrum, at
}

// settled are the instruments that were used, with programs for those that have none: by
// the part's name, else a piano for several staves, else a horn.
func (ins *instruments) settled(staves int) []PieceInstrument {
	if len(ins.used) == 0 {
		ins.of("")
	}
	for i := range ins.used {
		u := &ins.used[i]
		if u.Program != unknownProgram {
			continue
		}
		program, known := programOf(ins.part)
		switch {
		case known:
			u.Program = program
		case staves > 1:
			u.Program = piano
		default:
			u.Program = horn
		}
	}
	return ins.used
}

// General MIDI 1, from memory: programs counted from 0, and keys of percussion.
const (
	piano    = 0
	horn     = 60
	sideDrum = 38

	celesta, glockenspiel, dulcimer = 8, 9, 15
	organ, accordion, harp, timpani = 16, 23, 46, 47 // accordion: the last of the free reeds
)

// A sounding name is a word of an instrument's name and its program or key. Of several
// that fit the first holds, so longer names stand ahead of what is in them.
type soundingName struct {
	word   string
	number int
}

var programNames = []soundingName{
	{"piccolo", 72}, {"flute", 73}, {"flöte", 73}, {"flauto", 73}, {"recorder", 74}, {"blockflöte", 74},
	{"english horn", 69}, {"cor anglais", 69}, {"englischhorn", 69}, {"oboe", 68}, {"bassoon", 70}, {"fagott", 70},
	{"clarinet", 71}, {"klarinette", 71}, {"clarinetto", 71},
	{"soprano sax", 64}, {"alto sax", 65}, {"altsax", 65}, {"tenor sax", 66}, {"tenorsax", 66}, {"baritone sax", 67}, {"saxophone", 65},
	{"basstrombone", 57}, {"trombone", 57}, {"posaune", 57}, {"trumpet", 56}, {"trompete", 56}, {"tromba", 56}, {"cornet", 56}, {"kornett", 56},
	{"flugelhorn", 56}, {"flügelhorn", 56}, {"euphonium", 58}, {"baritone horn", 58}, {"sousaphone", 58}, {"tuba", 58}, {"baritone", 58}, {"bariton", 58},
	{"horn", 60}, {"corno", 60},
	{"organ", 19}, {"orgel", 19}, {"harpsichord", 6}, {"cembalo", 6}, {"accordion", 21}, {"akkordeon", 21}, {"celesta", 8},
	{"glockenspiel", 9}, {"vibraphone", 11}, {"marimba", 12}, {"xylophone", 13}, {"chimes", 14}, {"tubular bells", 14}, {"timpani", 47}, {"pauken", 47},
	{"piano", 0}, {"klavier", 0}, {"keyboard", 0},
	{"bass guitar", 33}, {"e-bass", 33}, {"guitar", 24}, {"gitarre", 24}, {"harp", 46}, {"harfe", 46},
	{"viola", 41}, {"bratsche", 41}, {"violoncello", 42}, {"cello", 42}, {"contrabass", 43}, {"double bass", 43}, {"kontrabass", 43},
	{"violin", 40}, {"violine", 40}, {"geige", 40}, {"strings", 48}, {"streicher", 48},
	{"choir", 52}, {"chor", 52}, {"voice", 52}, {"vocal", 52}, {"soprano", 52}, {"sopran", 52}, {"alto", 52}, {"tenor", 52}, {"tenore", 52},
	{"basses", 58}, {"bass", 58},
}

var drumNames = []soundingName{
	{"bass drum", 36}, {"gran cassa", 36}, {"kick", 36}, {"große trommel", 36}, {"side stick", 37}, {"snare", 38}, {"side drum", 38},
	{"kleine trommel", 38}, {"field drum", 38}, {"clap", 39}, {"open hi", 46}, {"pedal hi", 44}, {"hi-hat", 42}, {"hihat", 42}, {"hi hat", 42},
	{"ride", 51}, {"crash", 49}, {"splash", 55}, {"cymbal", 49}, {"becken", 49}, {"floor tom", 41}, {"low tom", 45}, {"mid tom", 47}, {"high tom", 50},
	{"tom", 45}, {"tambourine", 54}, {"cowbell", 56}, {"triangle", 81}, {"wood block", 76}, {"woodblock", 76}, {"temple block", 76}, {"bongo", 60},
	{"conga", 63}, {"timbale", 65}, {"maracas", 70}, {"shaker", 82}, {"claves", 75}, {"guiro", 73}, {"whip", 39}, {"gong", 52}, {"tam-tam", 52}, {"drum", 38},
}

// programOf finds a General MIDI program by a name of an instrument: the project's own
// instruments first.
func programOf(name string) (program int, known bool) {
	name = strings.ToLower(strings.NewReplacer(".", " ", "_", " ").Replace(name))
	if strings.TrimSpace(name) == "" {
		return 0, false
	}
	for _, in := range theory.Instruments() {
		if strings.ToLower(in.Name) == name || in.ID == name {
			return in.Program, true
		}
	}
	return named(programNames, name)
}

func drumOf(name string) (key int, known bool) { return named(drumNames, strings.ToLower(name)) }

// named finds the first word that the name has.
func named(list []soundingName, name string) (number int, known bool) {
	for _, n := range list {
		if strings.Contains(name, n.word) {
			return n.number, true
		}
	}
	return 0, false
}
