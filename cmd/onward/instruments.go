package main

import (
	"io"

	"onward/theory"

	"github.com/spf13/cobra"
)

// An instrumentItem is one instrument as the list gives it. Ranges are written.
type instrumentItem struct {
	ID       string      `json:"id"`
	Name     string      `json:"name"`
	Clef     string      `json:"clef"`
	WrittenC string      `json:"written_c_sounds"` // the pitch that written C5 sounds
	Ranges   []rangeItem `json:"ranges"`
	Program  int         `json:"program"` // General MIDI, from 0
}

// A rangeItem is one bracket's range, in written pitch.
type rangeItem struct {
	Bracket string `json:"bracket"`
	Low     string `json:"low"`
	High    string `json:"high"`
}

func newInstrumentItem(in theory.Instrument) instrumentItem {
	item := instrumentItem{ID: in.ID, Name: in.Name, Clef: in.Clef.String(), Program: in.Program,
		WrittenC: theory.MustPitch("C5").Transpose(in.Sounds).String()}
	for b, r := range in.Ranges {
		item.Ranges = append(item.Ranges, rangeItem{theory.Bracket(b).String(), r.Low.String(), r.High.String()})
	}
	return item
}

// newInstruments makes the verb that lists the instruments.
func newInstruments(e *env) *cobra.Command {
	return newList(e, list{
		use: "instruments", short: "List the instruments, with clef, transposition and ranges",
		example: "  onward instruments\n  onward instruments --json",
		items: func(*env) (any, error) {
			var all []instrumentItem
			for _, in := range theory.Instruments() {
				all = append(all, newInstrumentItem(in))
			}
			return all, nil
		},
		table: func(w io.Writer, items any) error {
			t := table{head: []string{"id", "name", "clef", "C5 sounds", "written range, beginner to beyond"}}
			for _, in := range items.([]instrumentItem) {
				first, last := in.Ranges[theory.Beginner], in.Ranges[theory.Beyond]
				t.add(in.ID, in.Name, in.Clef, in.WrittenC, first.Low+" "+first.High+" to "+last.Low+" "+last.High)
			}
			return t.write(w)
		},
	})
}
