package stand

import (
	"context"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"strings"
	"syscall"
	"time"
)

// ErrNoEngraver says that this build cannot engrave.
var ErrNoEngraver = errors.New("this build carries no engraver, and that draws the page")

// What a browser may take.
const (
	startWithin = time.Minute     // to be there, with the engraver
	printWithin = 2 * time.Minute // for one piece
)

// printPolicy lets the page that engraves for paper have the stand's scripts and style and
// nothing else; the engraver in it makes machine code.
const printPolicy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// printPage is the page that engraves for paper.
const printPage = "print.html"

// A Printer engraves pages for paper, in a browser of its own that nobody sees. It is not
// safe for use by several goroutines at once.
type Printer struct {
	paper   Paper
	program string
	browser *browser
	server  *http.Server
}

// Printed is a piece on paper.
type Printed struct {
	// Sheets are the pages, each an SVG of the paper's size that needs no other file.
	Sheets []string `json:"sheets"`
	// Staff is the height of a staff in millimetres.
	Staff float64 `json:"staff"`
	// Systems are how many lines of music each page has.
	Systems []int  `json:"systems"`
	PDF     []byte `json:"-"`
}

// NewPrinter starts the browser at the path program. The error is ErrNoEngraver where this
// build has none; another says how the browser failed. Who has a Printer closes it.
func NewPrinter(ctx context.Context, program string, paper Paper) (p *Printer, err error) {
	if !HasEngraver() {
		return nil, ErrNoEngraver
	}
	p = &Printer{paper: paper, program: program}
	address, err := p.serve()
	if err != nil {
		return nil, err
	}
	if p.browser, err = startBrowser(program); err != nil {
		p.server.Close()
		return nil, err
	}
	if err := p.within(ctx, startWithin, func() error { return p.open(address) }); err != nil {
		p.Close()
		return nil, err
	}
	return p, nil
}

// Close ends the browser and all that it has started, and leaves nothing behind.
func (p *Printer) Close() {
	p.browser.close()
	p.server.Close()
}

// serve serves the page that engraves, to this machine and under an address that nobody
// guesses, and reports it.
func (p *Printer) serve() (address string, err error) {
	files, err := filesOf(carried)
	if err != nil {
		return "", err
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	token := newToken()
	p.server = &http.Server{
		Handler: printHandler(files, token, l.Addr().String()), ReadHeaderTimeout: headerWithin, MaxHeaderBytes: maxHeader,
		ErrorLog: log.New(io.Discard, "", 0),
	}
	go p.server.Serve(limit(l, maxConnections))
	return "http://" + l.Addr().String() + "/" + token + "/" + printPage, nil
}

// printHandler serves files under the token, to who names the host.
func printHandler(files map[string]file, token, host string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		harden(w.Header())
		given, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		f, ok := files[rest]
		switch {
		case r.Host != host:
			http.Error(w, http.StatusText(http.StatusMisdirectedRequest), http.StatusMisdirectedRequest)
		case subtle.ConstantTimeCompare([]byte(given), []byte(token)) != 1, !ok:
			http.NotFound(w, r)
		case r.Method != http.MethodGet:
			http.Error(w, http.StatusText(http.StatusMethodNotAllowed), http.StatusMethodNotAllowed)
		default:
			if rest == printPage {
				f.policy = printPolicy
			}
			serveFile(w, r, f)
		}
	})
}

// open opens the page that engraves.
func (p *Printer) open(address string) error {
	b := p.browser
	var target struct {
		TargetID string `json:"targetId"`
	}
	if err := b.call("Target.createTarget", map[string]any{"url": "about:blank"}, &target); err != nil {
		return err
	}
	var attached struct {
		SessionID string `json:"sessionId"`
	}
	if err := b.call("Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &attached); err != nil {
		return err
	}
	b.session = attached.SessionID
	if err := b.call("Page.enable", nil, nil); err != nil {
		return err
	}
	if err := b.call("Page.navigate", map[string]any{"url": address}, nil); err != nil {
		return err
	}
	if err := b.await("Page.loadEventFired"); err != nil {
		return err
	}
	return b.evaluate("paper.ready", nil)
}

// Print engraves a page, MusicXML, and reports it as sheets and, where pdf asks for it, as a
// PDF. name stands small at the foot of each sheet. After an error the printer prints no
// more.
func (p *Printer) Print(ctx context.Context, music []byte, name string, pdf bool) (*Printed, error) {
	var made Printed
	asked, err := json.Marshal([]any{string(music), map[string]any{"width": p.paper.Width, "height": p.paper.Height, "name": name}})
	if err != nil {
		return nil, err
	}
	err = p.within(ctx, printWithin, func() error {
		if err := p.browser.evaluate("paper.engrave(..."+string(asked)+")", &made); err != nil {
			return err
		}
		if !pdf {
			return nil
		}
		var printed struct {
			Data []byte `json:"data"`
		}
		const inch = 25.4
		err := p.browser.call("Page.printToPDF", map[string]any{
			"paperWidth": p.paper.Width / inch, "paperHeight": p.paper.Height / inch,
			"marginTop": 0, "marginBottom": 0, "marginLeft": 0, "marginRight": 0,
		}, &printed)
		made.PDF = printed.Data
		return err
	})
	if err != nil {
		return nil, err
	}
	return &made, nil
}

// within has the browser do something, and ends it where that fails, takes too long or ctx
// is done.
func (p *Printer) within(ctx context.Context, limit time.Duration, do func() error) error {
	inTime, stop := context.WithTimeout(ctx, limit)
	defer stop()
	release := context.AfterFunc(inTime, p.browser.kill)
	err := do()
	release()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case inTime.Err() != nil:
		return fmt.Errorf("%s does not answer within %v%s", p.program, limit, p.browser.why())
	case err != nil:
		p.browser.kill()
		<-p.browser.ended // then it has said all
		return fmt.Errorf("%s: %w%s", p.program, plain(err), p.browser.why())
	}
	return nil
}

// plain says in words that the browser is no more.
func plain(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, os.ErrClosed) || errors.Is(err, syscall.EPIPE) {
		return errors.New("the browser ended by itself")
	}
	return err
}
