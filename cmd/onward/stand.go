package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"

	"github.com/spf13/cobra"
)

// standOptions say where the stand's page is served.
type standOptions struct {
	Listen    string
	LAN       bool
	PageQuits bool // the page may end the practice
}

func (o *standOptions) standFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.Listen, "listen", "", "serve the page at `HOST:PORT` (default: 127.0.0.1 and any port that is free)")
	cmd.Flags().BoolVar(&o.LAN, "lan", false, "let other machines in your network open it, by an address that nobody guesses; shown as a QR code, too; not encrypted")
	cmd.Flags().BoolVar(&o.PageQuits, "page-quits", false, "let the page end the practice, too, for every screen and the program (else you alone do, here)")
}

// listen opens the address.
func (o *standOptions) listen() (net.Listener, error) {
	l, err := stand.Listen(o.Listen, o.LAN)
	if err != nil {
		return nil, asked(err, "for other machines in your network add --lan")
	}
	return l, nil
}

// newStand makes the verb that shows the practice on a page in the browser. do is nil but
// in tests.
func newStand(e *env, journal *string, do func(*readOptions, *standOptions) error) *cobra.Command {
	var o readOptions
	var at standOptions
	var today bool
	cmd := &cobra.Command{
		Use:   "stand",
		Short: "Show the music on a page in your browser, as on a music stand, in step with the band",
		Long: `Stand serves one page from this program and prints its address. Open it in a browser:
it shows what there is to choose, the engraved music in the look-over and the take, turns
its pages by itself, and asks afterwards what slipped. Ctrl-C ends the practice; the page
does not, unless --page-quits lets it.

With --lan a tablet on your music stand can open it, and a class: several stands may show
one practice, each with its own part (?part=trumpet at the end of the address, or the
page's menu). Whoever has the address can start, leave and mark takes and read your record,
and what is shown goes through the network as it is, not encrypted.`,
		Example: `  onward stand
  onward stand --today
  onward stand --lan --style march --rung 4
  onward stand --listen 127.0.0.1:8080 --instrument trombone`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal = *journal
			if err := o.check(cmd); err != nil {
				return err
			}
			if do != nil {
				return do(&o, &at)
			}
			if today {
				return runStand(cmd.Context(), e, &o, &at, &dayPlan{minutes: usualDay})
			}
			return runStand(cmd.Context(), e, &o, &at, nil)
		},
	}
	o.flags(cmd, "reads")
	cmd.Flags().DurationVar(&o.LookOver, "look-over", usualLookOver, "`TIME` to look the page over before the count-in, such as 45s; 0 for none")
	cmd.Flags().StringVar(&o.Port, "port", "", "play on the MIDI port of this `NAME`, see onward ports; or raw:/path of a device")
	o.latencyOption.flag(cmd)
	o.takeFlags(cmd)
	at.standFlags(cmd)
	cmd.Flags().BoolVar(&today, "today", false, "follow the day's plan, as onward today does")
	return cmd
}

// runStand serves a practice whose only screen is the stand.
func runStand(ctx context.Context, e *env, o *readOptions, at *standOptions, day *dayPlan) error {
	l, err := at.listen()
	if err != nil {
		return err
	}
	defer l.Close()
	alone := *e
	o.NoStand = true // but this one
	alone.room = func(ctx context.Context, s *session.Session) error { return serveStand(ctx, e, l, at, s) }
	return runPractice(ctx, &alone, o, day)
}

// serveStand serves the page until ctx is done or the practice is over, and says where, and
// what goes wrong meanwhile.
func serveStand(ctx context.Context, e *env, l net.Listener, at *standOptions, p *session.Session) error {
	page, err := at.page(p, l)
	if err != nil {
		return err
	}
	if err := tellStand(e.out, page.Address(), at.LAN); err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		defer stop()
		said := ""
		for st := range p.Watch(ctx) {
			if st.Over {
				return
			}
			if said != st.Problem && st.Problem != "" {
				fmt.Fprintln(e.err, "onward: "+st.Problem)
			}
			said = st.Problem
		}
	}()
	return page.Serve(ctx)
}

// page makes the stand, with what its pages may do.
func (o *standOptions) page(p stand.Practice, l net.Listener) (*stand.Stand, error) {
	page, err := stand.New(p, l)
	if err == nil && o.PageQuits {
		page.LetQuit()
	}
	return page, err
}

// sharedWords say ahead of all else what it means that a stand is open to the network.
const sharedWords = "whoever has this address can drive and end what is played here, and read its record; the connection is not encrypted: open it only in a network that you trust"

// tellStand says where the page is, and how a tablet gets there.
func tellStand(w io.Writer, address string, lan bool) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%-*s%s\n", fieldWidth, "stand", address)
	if !lan {
		field(&b, "", "open it in a browser on this machine; Ctrl-C ends the practice")
	} else {
		drawn, err := stand.QR(address)
		if err != nil {
			return errors.Join(err, writeAll(w, b.String()))
		}
		field(&b, "caution", sharedWords)
		b.WriteString("\n" + drawn + "\n")
		field(&b, "", "open it on any machine in your network; Ctrl-C ends the practice")
	}
	if !stand.HasEngraver() {
		field(&b, "engraver", "this build has none: run `go generate ./cmd/internal/stand` in the source and build again; the page says more")
	}
	return writeAll(w, b.String())
}

func writeAll(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	return err
}
