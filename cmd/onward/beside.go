package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"runtime"

	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"

	"github.com/spf13/cobra"
)

// besideOptions say whether there is a stand beside the room, and where.
type besideOptions struct {
	standOptions
	Stand   bool
	NoStand bool
}

func (o *besideOptions) besideFlags(cmd *cobra.Command) {
	o.standFlags(cmd)
	cmd.Flags().BoolVar(&o.Stand, "stand", false, "show the engraved page in a browser, too, in step (default where one can be opened)")
	cmd.Flags().BoolVar(&o.NoStand, "no-stand", false, "show no page in a browser")
}

func (o *besideOptions) checkBeside() error {
	if o.NoStand && (o.Stand || o.Listen != "" || o.LAN || o.PageQuits) {
		return askedf("--no-stand: leave it out, or --stand, --listen, --lan and --page-quits")
	}
	return nil
}

// beside reports whether there is to be a stand: by default where a browser can be opened
// and the program carries what engraves.
func (o *besideOptions) beside(e *env) bool {
	return !o.NoStand && (o.Stand || o.Listen != "" || o.LAN || e.browse != nil && stand.HasEngraver())
}

// putUp puts up the stand beside the room, and reports what takes it down again.
func (o *besideOptions) putUp(ctx context.Context, e *env, s *session.Session) (down func(), err error) {
	l, err := o.listen()
	if err != nil {
		return nil, err
	}
	page, err := o.page(s, l)
	if err != nil {
		l.Close()
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		page.Serve(ctx) // when it breaks down, the room goes on
	}()
	down = func() { stop(); <-done }
	s.Stand(page.Address())
	switch {
	case o.LAN:
		if err := tellStand(e.out, page.Address(), true); err != nil {
			return down, err
		}
		fmt.Fprint(e.out, "\nENTER goes on to the room. ")
		bufio.NewReader(e.in).ReadString('\n')
	case e.browse != nil:
		if err := e.browse(page.Address()); err != nil {
			fmt.Fprintf(e.err, "no browser opened (%v): the page is at %s\n", err, page.Address())
		}
	}
	return down, nil
}

// browser is what opens a page on this machine; nil where nothing does: where there is no
// screen but a terminal's, or it belongs to another machine.
func browser() func(address string) error {
	name, args := "xdg-open", []string(nil)
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler"}
	default:
		if os.Getenv("DISPLAY") == "" && os.Getenv("WAYLAND_DISPLAY") == "" {
			return nil
		}
	}
	if _, err := exec.LookPath(name); err != nil || os.Getenv("SSH_CONNECTION") != "" {
		return nil
	}
	return func(address string) error {
		cmd := exec.Command(name, append(args, address)...)
		if err := cmd.Start(); err != nil {
			return err
		}
		go cmd.Wait() // a browser may stay for long
		return nil
	}
}
