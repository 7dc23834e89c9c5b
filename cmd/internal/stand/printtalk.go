package stand

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sync"
)

// A talk drives a browser by the DevTools protocol over pipes: messages are JSON, each with
// a zero byte behind it. Calls are made one after the other.
type talk struct {
	orders  io.WriteCloser
	answers io.ReadCloser
	in      *bufio.Reader
	session string // of the page that calls go to, "" for the browser itself
	count   int
	seen    map[string]bool // events that came
	shut    sync.Once
}

// maxAnswer is more than the engraved pages of the longest piece have, in bytes.
const maxAnswer = 256 << 20

func newTalk(orders io.WriteCloser, answers io.ReadCloser) *talk {
	return &talk{orders: orders, answers: answers, in: bufio.NewReaderSize(answers, 1<<16), seen: map[string]bool{}}
}

func (t *talk) close() {
	t.shut.Do(func() {
		t.orders.Close()
		t.answers.Close()
	})
}

// A message is a call, its answer, or an event.
type message struct {
	ID      int             `json:"id,omitempty"`
	Session string          `json:"sessionId,omitempty"`
	Method  string          `json:"method,omitempty"`
	Params  any             `json:"params,omitempty"`
	Result  json.RawMessage `json:"result,omitempty"`
	Error   *struct {
		Message string `json:"message"`
	} `json:"error,omitempty"`
}

// tell calls without waiting for an answer.
func (t *talk) tell(method string) {
	t.count++
	t.send(message{ID: t.count, Method: method})
}

func (t *talk) send(m message) error {
	text, err := json.Marshal(m)
	if err != nil {
		return err
	}
	_, err = t.orders.Write(append(text, 0))
	return err
}

// call calls a method and reads its answer into result, unless that is nil.
func (t *talk) call(method string, params, result any) error {
	t.count++
	id := t.count
	if err := t.send(message{ID: id, Session: t.session, Method: method, Params: params}); err != nil {
		return err
	}
	for {
		m, err := t.next()
		switch {
		case err != nil:
			return err
		case m.ID != id:
			continue
		case m.Error != nil:
			return fmt.Errorf("%s: %s", method, m.Error.Message)
		case result == nil:
			return nil
		}
		return json.Unmarshal(m.Result, result)
	}
}

// await waits for an event of the page.
func (t *talk) await(event string) error {
	for !t.seen[event] {
		if _, err := t.next(); err != nil {
			return err
		}
	}
	return nil
}

// next reads a message.
func (t *talk) next() (message, error) {
	var m message
	var text []byte
	for {
		piece, err := t.in.ReadSlice(0)
		text = append(text, piece...)
		if err == nil {
			break
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return m, err
		}
		if len(text) > maxAnswer {
			return m, fmt.Errorf("an answer of more than %d bytes", maxAnswer)
		}
	}
	if err := json.Unmarshal(bytes.TrimSuffix(text, []byte{0}), &m); err != nil {
		return m, fmt.Errorf("an answer that is none: %w", err)
	}
	if m.Method != "" && m.Session == t.session {
		t.seen[m.Method] = true
	}
	return m, nil
}

// evaluate has the page work out an expression, waits where it is a promise, and reads its
// value into result. What the page throws is the error.
func (t *talk) evaluate(expression string, result any) error {
	var answer struct {
		Result struct {
			Value json.RawMessage `json:"value"`
		} `json:"result"`
		ExceptionDetails *struct {
			Text      string `json:"text"`
			Exception struct {
				Description string `json:"description"`
			} `json:"exception"`
		} `json:"exceptionDetails"`
	}
	err := t.call("Runtime.evaluate", map[string]any{"expression": expression, "awaitPromise": true, "returnByValue": true}, &answer)
	if err != nil {
		return err
	}
	if fault := answer.ExceptionDetails; fault != nil {
		words, _, _ := bytes.Cut([]byte(fault.Exception.Description), []byte("\n"))
		return fmt.Errorf("%s %s", fault.Text, words)
	}
	if result == nil {
		return nil
	}
	return json.Unmarshal(answer.Result.Value, result)
}
