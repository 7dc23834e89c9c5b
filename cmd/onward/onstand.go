package main

import (
	"context"
	"os"
	"os/exec"
	"runtime"

	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"

	"github.com/spf13/cobra"
)

// standOptions say where the engraved page is served.
type standOptions struct {
	Stand   bool
	NoStand bool
	Listen  string
	LAN     bool
}

// listenFlags give cmd the flags that say where.
func (o *standOptions) listenFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.Listen, "listen", "", "serve the stand at `HOST:PORT`, port 0 for any free one (default 127.0.0.1:0)")
	cmd.Flags().BoolVar(&o.LAN, "lan", false, "serve it to other screens of the local network, too")
}

// standFlags give cmd those and the ones that say whether.
func (o *standOptions) standFlags(cmd *cobra.Command) {
	o.listenFlags(cmd)
	cmd.Flags().BoolVar(&o.Stand, "stand", false, "show the engraved page on a stand, in step (default where a browser can be opened)")
	cmd.Flags().BoolVar(&o.NoStand, "no-stand", false, "do not open a stand")
}

func (o *standOptions) checkStand() error {
	if o.NoStand && (o.Stand || o.Listen != "" || o.LAN) {
		return askedf("--no-stand: leave it out, or --stand, --listen and --lan")
	}
	return nil
}

// wanted reports whether there is to be a stand: by default where a browser can be opened
// and the program carries what engraves.
func (o *standOptions) wanted(e *env) bool {
	return !o.NoStand && (o.Stand || o.Listen != "" || o.LAN || e.browse != nil && stand.HasEngraver())
}

// put puts up the stand of a session, and reports its address and what takes it away again.
func (o *standOptions) put(ctx context.Context, s *session.Session) (address string, down func() error, err error) {
	l, err := stand.Listen(o.Listen, o.LAN)
	if err != nil {
		return "", nil, asked(err, "--listen and --lan say where")
	}
	page, err := stand.New(s, l)
	if err != nil {
		l.Close()
		return "", nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- page.Serve(ctx) }()
	s.Stand(page.Address())
	return page.Address(), func() error { stop(); return <-done }, nil
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
