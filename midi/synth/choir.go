package synth

// A channel is what a MIDI channel's messages have set.
type channel struct {
	sound              *sound
	volume, expression float64 // 0 to 1
	gain               float64 // of both
	pan                float64 // -50 left to 50 right
	pedal              bool
}

// A choir is the voices of all channels. It plays notes, programs, and of the
// controllers volume, expression, pan, pedal, resetting, and all notes or all sound
// off (MIDI 1.0; General MIDI 1: channel 10 is percussion). Banks are not selected.
type choir struct {
	rate     float64
	sounds   *repertoire
	channels [16]channel
	voices   [polyphony]voice
	active   int // the voices in front that sound
}

// percussionChannel is channel 10, counted from 0.
const percussionChannel = 9

func newChoir(sounds *repertoire, rate int) *choir {
	c := &choir{rate: float64(rate), sounds: sounds}
	for i := range c.channels {
		ch := &c.channels[i]
		ch.volume = part14(100)
		ch.reset()
		c.program(int32(i), 0)
	}
	return c
}

// reset brings the controllers that message 121 resets to their usual values.
func (ch *channel) reset() {
	ch.expression, ch.pedal = part14(127), false
	ch.level()
}

// part14 reports which part of the full 14 bits a controller's seven upper ones are.
func part14(value int32) float64 { return float64(value<<7) / 16383 }

// level works out the gain: the square of volume and expression (General MIDI 1).
func (ch *channel) level() {
	v := ch.volume * ch.expression
	ch.gain = v * v
}

func (c *choir) program(channel, program int32) {
	c.channels[channel].sound = c.sounds[kindOf(channel)][program&127]
}

// kindOf reports which half of a repertoire a channel plays.
func kindOf(channel int32) int {
	if channel == percussionChannel {
		return 1
	}
	return 0
}

// apply does what a message says, at frames into the next block.
func (c *choir) apply(m message, at int) {
	channel, a, b := int32(m[0]&0x0f), int32(m[1]&0x7f), int32(m[2]&0x7f)
	switch m[0] & 0xf0 {
	case 0x80:
		c.noteOff(channel, a)
	case 0x90:
		if b == 0 {
			c.noteOff(channel, a)
			return
		}
		c.noteOn(channel, a, b, at)
	case 0xB0:
		c.control(channel, a, b)
	case 0xC0:
		c.program(channel, a)
	}
}

func (c *choir) noteOn(channel, key, velocity int32, at int) {
	s := c.channels[channel].sound
	if s == nil {
		return
	}
	for i := range s.regions {
		if r := &s.regions[i]; r.holds(key, velocity) {
			c.choke(channel, r.exclusive)
			c.free().begin(r, channel, key, velocity, at, c.rate)
		}
	}
}

// choke cuts off what an exclusive class above 0 lets no longer sound.
func (c *choir) choke(channel, exclusive int32) {
	for i := range c.active {
		if v := &c.voices[i]; exclusive != 0 && v.channel == channel && v.region.exclusive == exclusive && v.age > 0 {
			v.cut = true
		}
	}
}

// free finds a voice for a new note: a silent one, else the one that is missed least.
func (c *choir) free() *voice {
	if c.active < len(c.voices) {
		c.active++
		return &c.voices[c.active-1]
	}
	least := &c.voices[0]
	for i := range c.voices {
		v := &c.voices[i]
		if p, q := v.priority(), least.priority(); p < q || p == q && v.age > least.age {
			least = v
		}
	}
	return least
}

func (c *choir) noteOff(channel, key int32) {
	for i := range c.active {
		if v := &c.voices[i]; v.channel == channel && v.key == key {
			v.end()
		}
	}
}

// Controllers of MIDI 1.0 that are played.
const (
	ctlVolume     = 7
	ctlPan        = 10
	ctlExpression = 11
	ctlPedal      = 64
	ctlSoundOff   = 120
	ctlReset      = 121
	ctlNotesOff   = 123
)

func (c *choir) control(channel, controller, value int32) {
	ch := &c.channels[channel]
	switch controller {
	case ctlVolume:
		ch.volume = part14(value)
		ch.level()
	case ctlExpression:
		ch.expression = part14(value)
		ch.level()
	case ctlPan:
		ch.pan = float64(value-64) * 50 / 64
	case ctlPedal:
		ch.pedal = value >= 64
	case ctlReset:
		ch.reset()
	case ctlSoundOff, ctlNotesOff:
		for i := range c.active {
			v := &c.voices[i]
			if v.channel != channel {
				continue
			}
			v.end()
			v.cut = v.cut || controller == ctlSoundOff
		}
	}
}

// silence ends every note, at once or by its release.
func (c *choir) silence(atOnce bool) {
	if atOnce {
		c.active = 0
	}
	for i := range c.active {
		c.voices[i].end()
	}
}

// render writes the next block of both sides.
func (c *choir) render(left, right *[blockSize]float32) {
	*left, *right = [blockSize]float32{}, [blockSize]float32{}
	for i := 0; i < c.active; {
		v := &c.voices[i]
		if v.render(left, right, &c.channels[v.channel], c.rate) {
			i++
			continue
		}
		c.active--
		*v = c.voices[c.active]
	}
}
