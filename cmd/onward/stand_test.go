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

// TestStandOfOneRead goes from the flags to the meaning through the page's own door.
func TestStandOfOneRead(t *testing.T) {
	s := newStage(t)
	said, w := io.Pipe()
	s.env.out = w
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	code := make(chan int, 1)
	go func() {
		defer w.Close()
		code <- run(ctx, s.env, []string{"stand", "--style", "march", "--rung", "4", "--seed", "7"})
	}()
	lines := bufio.NewScanner(said)
	address := ""
	for address == "" && lines.Scan() {
		address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/[\w-]{22}/$`).FindString(lines.Text())
	}
	if address == "" {
		t.Fatalf("no address; exit %d, %s", <-code, &s.err)
	}
	go io.Copy(io.Discard, said)
	host := strings.Split(address, "/")[2]
	do := func(action string) {
		r, _ := http.NewRequestWithContext(ctx, "POST", address+"do", strings.NewReader(action))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Origin", "http://"+host)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		if text, _ := io.ReadAll(answer.Body); answer.StatusCode != http.StatusNoContent {
			t.Errorf("%s: %s %s", action, answer.Status, text)
		}
	}
	r, _ := http.NewRequestWithContext(ctx, "GET", address+"follow", nil)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	events := bufio.NewScanner(answer.Body)
	events.Buffer(nil, 1<<20)
	until := func(what string) string {
		t.Helper()
		for events.Scan() {
			if strings.Contains(events.Text(), what) {
				return events.Text()
			}
		}
		t.Fatalf("%s never came: %v, %s", what, events.Err(), &s.err)
		return ""
	}
	until(`"place":"slips"`)
	page, err := http.Get(address + "page?count=1&part=trombone")
	if err != nil {
		t.Fatal(err)
	}
	defer page.Body.Close()
	if text, _ := io.ReadAll(page.Body); page.StatusCode != 200 || !strings.Contains(string(text), "<sign>F</sign>") {
		t.Errorf("for the trombone: %s %.300q", page.Status, text)
	}
	do(`{"do":"mark","measure":2,"mark":{"rhythm":true}}`)
	do(`{"do":"keep"}`)
	if told := until(`"place":"meaning"`); !strings.Contains(told, `"right":`) {
		t.Errorf("meaning: %.300s", told)
	}
	do(`{"do":"quit"}`)
	if got := <-code; got != exitFine {
		t.Errorf("exit %d, %s", got, &s.err)
	}
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
}
