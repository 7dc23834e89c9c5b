package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/stand"
)

func TestStandFlags(t *testing.T) {
	for _, c := range []struct {
		args []string
		want standOptions
		rung int
	}{
		{nil, standOptions{}, 0},
		{[]string{"--listen", "127.0.0.1:8080"}, standOptions{Listen: "127.0.0.1:8080"}, 0},
		{[]string{"--lan", "--rung", "4"}, standOptions{LAN: true}, 4},
	} {
		s, asked := newStage(t), false
		journal := "journal.db"
		cmd := newStand(s.env, &journal, func(o *readOptions, at *standOptions) error {
			asked = true
			if *at != c.want || c.rung != 0 && o.Rung != c.rung {
				t.Errorf("%q: got %+v, rung %d", c.args, *at, o.Rung)
			}
			return nil
		})
		cmd.SetArgs(c.args)
		if err := cmd.ExecuteContext(t.Context()); err != nil || !asked {
			t.Errorf("%q: %v", c.args, err)
		}
	}
}

func TestStandIsNotOpenedToOthersUnasked(t *testing.T) {
	s := newStage(t)
	for _, listen := range []string{"0.0.0.0:0", "192.0.2.1:80", "nowhere"} {
		code, out, faults := s.run("stand", "--listen", listen)
		if code != exitRequest || out != "" || !strings.Contains(faults, listen) {
			t.Errorf("%s: exit %d, %q, %q", listen, code, out, faults)
		}
	}
}

// A served stand is one that the program serves, and a page's own way to it.
type served struct {
	*testing.T
	ctx     context.Context
	address string
	events  *bufio.Scanner // what pages are told
	code    chan int       // the program's
}

// serve runs onward stand.
func serve(t *testing.T, s *stage, args ...string) *served {
	t.Helper()
	said, w := io.Pipe()
	s.env.out = w
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	t.Cleanup(stop)
	d := &served{T: t, ctx: ctx, code: make(chan int, 1)}
	go func() {
		defer w.Close()
		d.code <- run(ctx, s.env, append([]string{"stand"}, args...))
	}()
	lines := bufio.NewScanner(said)
	for d.address == "" && lines.Scan() {
		d.address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/[\w-]{22}/$`).FindString(lines.Text())
	}
	if d.address == "" {
		t.Fatalf("no address; exit %d, %s", <-d.code, &s.err)
	}
	go io.Copy(io.Discard, said)
	r, _ := http.NewRequestWithContext(ctx, "GET", d.address+"follow", nil)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { answer.Body.Close() })
	d.events = bufio.NewScanner(answer.Body)
	d.events.Buffer(nil, 1<<20)
	return d
}

// do does an action, and wants this answer.
func (d *served) do(action string, want int) {
	d.Helper()
	r, _ := http.NewRequestWithContext(d.ctx, "POST", d.address+"do", strings.NewReader(action))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Origin", "http://"+r.Host)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		d.Fatal(err)
	}
	defer answer.Body.Close()
	if text, _ := io.ReadAll(answer.Body); answer.StatusCode != want {
		d.Errorf("%s: %s %s, want %d", action, answer.Status, text, want)
	}
}

// until reads what pages are told until it holds this.
func (d *served) until(what string) string {
	d.Helper()
	for d.events.Scan() {
		if strings.Contains(d.events.Text(), what) {
			return d.events.Text()
		}
	}
	d.Fatalf("%s never came: %v", what, d.events.Err())
	return ""
}

// TestStandOfOneRead goes from the flags to the meaning through the page's own door.
func TestStandOfOneRead(t *testing.T) {
	s := newStage(t)
	d := serve(t, s, "--style", "march", "--rung", "4", "--seed", "7", "--page-quits")
	d.until(`"place":"slips"`)
	page, err := http.Get(d.address + "page?count=1&part=trombone")
	if err != nil {
		t.Fatal(err)
	}
	defer page.Body.Close()
	if text, _ := io.ReadAll(page.Body); page.StatusCode != 200 || !strings.Contains(string(text), "<sign>F</sign>") {
		t.Errorf("for the trombone: %s %.300q", page.Status, text)
	}
	d.do(`{"do":"mark","measure":2,"mark":{"rhythm":true}}`, http.StatusNoContent)
	d.do(`{"do":"keep"}`, http.StatusNoContent)
	if told := d.until(`"place":"meaning"`); !strings.Contains(told, `"right":`) {
		t.Errorf("meaning: %.300s", told)
	}
	d.do(`{"do":"quit"}`, http.StatusNoContent)
	if got := <-d.code; got != exitFine {
		t.Errorf("exit %d, %s", got, &s.err)
	}
}

// What goes wrong on a stand without a room is said where it was started, and to pages only
// where they asked for what cannot be; a page cannot end the practice.
func TestStandSaysWhatGoesWrong(t *testing.T) {
	s := newStage(t)
	faults, wrong := io.Pipe()
	s.env.err = wrong
	d := serve(t, s)
	d.until(`"offer":{`)
	d.do(`{"do":"quit"}`, http.StatusForbidden)
	said := bufio.NewScanner(faults)
	for _, c := range []struct{ choice, said, told string }{
		{`{"kind":"read","style":"march","rung":0}`, `onward: rung 0: the ladder has`, `"problem":"rung 0: the ladder has`},
		{`{"kind":"drill","figures":["nothing"]}`, `onward: figure "nothing"`, `"problem":"This cannot be done. The program says why`},
	} {
		d.do(`{"do":"choose","choice":`+c.choice+`}`, http.StatusNoContent)
		d.do(`{"do":"start"}`, http.StatusNoContent)
		if said.Scan(); !strings.HasPrefix(said.Text(), c.said) {
			t.Errorf("%s: said %q", c.choice, said.Text())
		}
		d.until(c.told)
	}
	go io.Copy(io.Discard, faults)
}

func TestTellStand(t *testing.T) {
	var b strings.Builder
	address := "http://192.168.1.20:40123/AAAAAAAAAAAAAAAAAAAAAA/"
	if err := tellStand(&b, address, true); err != nil {
		t.Fatal(err)
	}
	drawn, err := stand.QR(address)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), drawn) || !strings.Contains(b.String(), address+"\n") {
		t.Errorf("said\n%s", &b)
	}
	first, _, _ := strings.Cut(b.String(), "█")
	first = strings.Join(strings.Fields(first), " ")
	for _, want := range []string{"whoever has this address can drive and end what is played here", "read its record", "not encrypted"} {
		if !strings.Contains(first, want) {
			t.Errorf("the first lines do not say %q: %s", want, first)
		}
	}
	b.Reset()
	if err := tellStand(&b, "http://127.0.0.1:1/x/", false); err != nil || strings.Contains(b.String(), "whoever") {
		t.Errorf("of this machine alone: %v\n%s", err, &b)
	}
}
