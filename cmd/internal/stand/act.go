package stand

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"time"

	"onward/cmd/internal/session"
)

// do does what the page asks for: 204 where it is done, else 409 with the reason in words.
func (s *Stand) do(w http.ResponseWriter, r *http.Request) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		http.Error(w, "an action is application/json", http.StatusUnsupportedMediaType)
		return
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		http.Error(w, fmt.Sprintf("an action has at most %d bytes", maxBody), http.StatusRequestEntityTooLarge)
		return
	case err != nil:
		http.Error(w, "the action broke off", http.StatusBadRequest)
		return
	}
	state := s.practice.State()
	a, err := decodeAction(body, &state.Choice)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	if !s.allows(a.Do) {
		http.Error(w, "a page does not end the practice: its player does, where the program was started", http.StatusForbidden)
		return
	}
	if err := listed(a.Choice, &state); err != nil {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	var refused *session.ActionError
	switch err := s.practice.Do(a); {
	case errors.As(err, &refused):
		http.Error(w, refused.Text, http.StatusConflict)
	case err != nil:
		http.Error(w, notHere, http.StatusInternalServerError)
	default:
		w.WriteHeader(http.StatusNoContent)
	}
}

// maxNames bounds the lists of a choice, maxName each name in them.
const (
	maxNames = 64
	maxName  = 200
)

// decodeAction reads one action; what a choice does not say is as in now. It refuses
// unknown names, more than one action, and what no choice can be.
func decodeAction(body []byte, now *session.Choice) (session.Action, error) {
	var a struct {
		session.Action
		Choice json.RawMessage `json:"choice"`
	}
	if err := decodeOne(body, &a); err != nil {
		return session.Action{}, err
	}
	if a.Do == "" || len(a.Do) > maxName {
		return session.Action{}, errors.New("an action says what to do")
	}
	if len(a.Choice) > 0 && !bytes.Equal(a.Choice, []byte("null")) {
		c := *now
		c.Pressure, c.Figures = slices.Clone(c.Pressure), slices.Clone(c.Figures) // JSON is read into their memory
		if err := decodeOne(a.Choice, &c); err != nil {
			return session.Action{}, err
		}
		if err := checkChoice(&c); err != nil {
			return session.Action{}, err
		}
		a.Action.Choice = &c
	}
	return a.Action, nil
}

// decodeOne reads one JSON value and nothing after it.
func decodeOne(text []byte, into any) error {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	if err := in.Decode(into); err != nil {
		return errNoAction // Go's own words name its types
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) {
		return errors.New("action: there is more after it")
	}
	return nil
}

// errNoAction is all that is said of an action that cannot be read.
var errNoAction = errors.New("action: it is no JSON, or has a name or a kind of value that no action has")

// kindsOf are those that a choice can have.
var kindsOf = []session.Kind{session.Read, session.WarmUp, session.Drill, session.Pause}

// listed refuses a choice of what the program does not list: a page names styles, instruments
// and pressures, never a file. What is chosen already may stay. c may be nil.
func listed(c *session.Choice, st *session.State) error {
	if c == nil {
		return nil
	}
	offer, now := st.Offer, &st.Choice
	if offer == nil {
		offer = &session.Offer{}
	}
	is := func(name string) func(session.Named) bool { return func(n session.Named) bool { return n.ID == name } }
	switch {
	case c.Kind != now.Kind && !slices.Contains(kindsOf, c.Kind):
		return errors.New("kind: read, warm-up, drill or rest")
	case c.Style != now.Style && !slices.ContainsFunc(offer.Styles, is(c.Style)):
		return errors.New("style: choose one that is listed")
	case c.Instrument != now.Instrument && !slices.ContainsFunc(offer.Instruments, is(c.Instrument)):
		return errors.New("instrument: choose one that is listed")
	}
	for _, p := range c.Pressure {
		if !now.Under(p) && !slices.ContainsFunc(offer.Pressures, is(p)) {
			return errors.New("pressure: choose those that are listed")
		}
	}
	return nil
}

// checkChoice refuses what is out of all bounds; what there is to choose listed knows.
func checkChoice(c *session.Choice) error {
	switch {
	case c.Rung < 0 || c.Rung > 12:
		return fmt.Errorf("rung %d: 1 to 12", c.Rung)
	case c.Percent != 0 && (c.Percent < 25 || c.Percent > 100):
		return fmt.Errorf("tempo %d %%: 25 to 100", c.Percent)
	case c.Minutes < 0 || c.Minutes > 600:
		return fmt.Errorf("%d minutes: 0 to 600", c.Minutes)
	case c.LookOver < 0 || c.LookOver > 10*time.Minute:
		return fmt.Errorf("look-over of %v: 0 to 10 minutes", c.LookOver)
	case c.Coverage < 0 || c.Coverage > 1:
		return fmt.Errorf("coverage %v: 0 to 1", c.Coverage)
	case len(c.Pressure) > maxNames, len(c.Figures) > maxNames:
		return fmt.Errorf("at most %d names in a list", maxNames)
	}
	for _, list := range [][]string{c.Pressure, c.Figures, {c.Style, c.Instrument, c.Key, string(c.Kind)}} {
		for _, name := range list {
			if len(name) > maxName {
				return fmt.Errorf("a name has at most %d bytes", maxName)
			}
		}
	}
	return nil
}
