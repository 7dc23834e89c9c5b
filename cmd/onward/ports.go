package main

import (
	"errors"
	"fmt"
	"io"

	"onward/midi/port"

	"github.com/spf13/cobra"
)

// A portItem is one MIDI port. Port is what --port takes.
type portItem struct {
	Name string `json:"name"`
	Port string `json:"port"`
}

// newPorts makes the verb that lists the MIDI ports.
func newPorts(e *env) *cobra.Command {
	return newList(e, list{
		use: "ports", short: "List the MIDI ports that a take can be played on",
		example: "  onward ports\n  onward read --port \"Digital Piano\"",
		items: func(e *env) (any, error) {
			found, err := e.ports()
			if err != nil {
				fmt.Fprintln(e.err, "onward:", err)
				if !errors.Is(err, port.ErrNoDriver) && !errors.Is(err, port.ErrNoSequencer) {
					return nil, exitError(exitFault)
				}
			}
			items := []portItem{}
			for _, p := range found {
				name := p.Name
				if p.Raw != "" {
					name = p.Raw
				}
				items = append(items, portItem{p.Name, name})
			}
			return items, nil
		},
		table: func(w io.Writer, items any) error {
			all := items.([]portItem)
			if len(all) == 0 {
				_, err := io.WriteString(w, "no MIDI port; the built-in sound needs none\n")
				return err
			}
			t := table{head: []string{"name", "--port"}}
			for _, p := range all {
				t.add(p.Name, p.Port)
			}
			return t.write(w)
		},
	})
}
