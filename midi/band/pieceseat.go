package band

import "onward/compose/musicxml"

// The channels of a piece, counted from 0: 9 is percussion, and the last is the count-in's.
const (
	drumsChannel = 9
	chordChannel = 15
)

// seatInstruments gives each instrument of each part its channel; see Accompany. The
// player's part, if it is silent, takes none.
func seatInstruments(p *musicxml.Piece, player int, guide bool) [][]uint8 {
	seats := make([][]uint8, len(p.Parts))
	var wanted []*uint8 // of pitched instruments
	var programs []int
	for i := range p.Parts {
		ins := p.Parts[i].Instruments
		seats[i] = make([]uint8, len(ins))
		for k, in := range ins {
			switch {
			case in.Percussion:
				seats[i][k] = drumsChannel
			case i != player || guide:
				wanted = append(wanted, &seats[i][k])
				programs = append(programs, in.Program)
			}
		}
	}
	free := chordChannel - 1 // 0 to 14 without percussion
	var same func(i int) int // instruments of one number share a channel
	for _, rule := range []func(i int) int{
		func(i int) int { return i },
		func(i int) int { return programs[i] },
		func(i int) int { return programs[i] / 8 }, // the families of General MIDI
	} {
		same = rule
		kinds := map[int]bool{}
		for i := range wanted {
			kinds[rule(i)] = true
		}
		if len(kinds) <= free {
			break
		}
	}
	given := map[int]uint8{}
	next := uint8(0)
	for i, seat := range wanted {
		channel, had := given[same(i)]
		if !had {
			channel = min(next, chordChannel-1)
			given[same(i)] = channel
			if next++; next == drumsChannel {
				next++
			}
		}
		*seat = channel
	}
	return seats
}
