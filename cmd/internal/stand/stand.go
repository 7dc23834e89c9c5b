package stand

import (
	"context"
	"crypto/subtle"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"onward/cmd/internal/session"
)

// A Practice is what a stand shows and may do: a *session.Session.
type Practice interface {
	State() session.State
	// Watch sends the state now and after each change, the latest alone to one that is
	// slow, and closes the channel when ctx is done.
	Watch(ctx context.Context) <-chan session.State
	Do(a session.Action) error
	// Clock goes on while the machine sleeps.
	Clock() time.Duration
}

// A Stand serves one page for one practice, on one listener.
type Stand struct {
	practice Practice
	listener net.Listener
	token    string
	hosts    []string // as a browser may name them
	files    map[string]file
	asks     *rate
	acts     *rate
	tower    *tower
	pages    pages
	within   time.Duration // what a request's header must come in
	engraver bool          // the page can engrave
	shared   bool          // other machines reach it
	quits    bool          // its pages may end the practice
}

// New makes the stand of a practice on a listener that Listen opened.
func New(p Practice, l net.Listener) (*Stand, error) {
	files, err := filesOf(carried)
	if err != nil {
		return nil, err
	}
	return &Stand{
		practice: p, listener: l, token: newToken(), hosts: hostsOf(l.Addr(), net.InterfaceAddrs), files: files,
		asks: newRate(asksEachSecond, asksAtOnce, time.Now), acts: newRate(actsEachSecond, actsAtOnce, time.Now),
		tower: newTower(maxStreams), within: headerWithin, engraver: HasEngraver(), shared: sharedAt(l.Addr()),
	}, nil
}

// LetQuit lets the stand's pages end the practice, for everybody. It is called before Serve.
func (s *Stand) LetQuit() { s.quits = true }

// allows reports whether a page may do this at all: the practice is its player's, and who has
// the address cannot end it unless the player lets them.
func (s *Stand) allows(v session.Verb) bool { return v != session.DoQuit || s.quits }

// Address is where the page is, token and all: who has it drives the practice.
func (s *Stand) Address() string { return "http://" + s.hosts[0] + "/" + s.token + "/" }

// Serve serves the page until ctx is done; then it lets go of every stand at once.
func (s *Stand) Serve(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var following sync.WaitGroup
	following.Go(func() { s.follow(ctx) })
	defer following.Wait()
	server := &http.Server{
		Handler: s.Handler(), ReadHeaderTimeout: s.within, ReadTimeout: bodyWithin, IdleTimeout: answerWithin,
		MaxHeaderBytes: maxHeader, ErrorLog: log.New(io.Discard, "", 0),
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
	defer context.AfterFunc(ctx, func() { server.Close() })()
	defer stop()
	if err := server.Serve(limit(s.listener, maxConnections)); ctx.Err() == nil && !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Handler answers one request. What is not allowed to ask learns nothing but that.
func (s *Stand) Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		harden(w.Header())
		http.NewResponseController(w).SetWriteDeadline(time.Now().Add(answerWithin))
		rest, fault := s.admit(r)
		if fault != 0 {
			http.Error(w, http.StatusText(fault), fault)
			return
		}
		s.answer(w, r, rest)
	})
}

// admit reports what is asked for, below the token, or the status that refuses it.
func (s *Stand) admit(r *http.Request) (rest string, fault int) {
	token, rest, slash := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	switch {
	case !s.asks.may(r.RemoteAddr):
		return "", http.StatusTooManyRequests
	case !s.named(r.Host):
		return "", http.StatusMisdirectedRequest
	case !s.ownOrigin(r):
		return "", http.StatusForbidden
	case !slash || subtle.ConstantTimeCompare([]byte(token), []byte(s.token)) != 1:
		return "", http.StatusNotFound
	case r.Method == http.MethodPost && rest == "do":
		if !s.acts.may(r.RemoteAddr) {
			return "", http.StatusTooManyRequests
		}
	case r.Method != http.MethodGet && r.Method != http.MethodHead, rest == "do":
		return "", http.StatusMethodNotAllowed
	}
	return rest, 0
}

// answer answers a request that was admitted.
func (s *Stand) answer(w http.ResponseWriter, r *http.Request, rest string) {
	switch rest {
	case "do":
		s.do(w, r)
	case "follow":
		s.stream(w, r)
	case "clock":
		s.tellClock(w)
	case "page":
		s.tellPage(w, r)
	case "take":
		s.tellTake(w)
	default:
		f, ok := s.files[rest]
		if !ok {
			http.NotFound(w, r)
			return
		}
		serveFile(w, r, f)
	}
}
