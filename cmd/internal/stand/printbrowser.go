package stand

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"time"
)

// ErrNoBrowser says that no browser was found that can print.
var ErrNoBrowser = errors.New("no Chromium, Chrome or Edge is found on this machine, and one of them prints the page")

// onPath are the names by which such browsers are called.
var onPath = []string{
	"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge", "microsoft-edge-stable", "msedge",
}

// placesOf lists where a system keeps them otherwise.
func placesOf(system string, getenv func(string) string) (places []string) {
	under := func(folders []string, programs ...string) {
		for _, folder := range folders {
			if folder == "" {
				continue
			}
			for _, p := range programs {
				places = append(places, folder+p)
			}
		}
	}
	switch system {
	case "darwin":
		under([]string{"/Applications", getenv("HOME") + "/Applications"}, "/Chromium.app/Contents/MacOS/Chromium",
			"/Google Chrome.app/Contents/MacOS/Google Chrome", "/Microsoft Edge.app/Contents/MacOS/Microsoft Edge")
	case "windows":
		under([]string{getenv("ProgramFiles"), getenv("ProgramFiles(x86)"), getenv("LocalAppData")}, `\Chromium\Application\chrome.exe`,
			`\Google\Chrome\Application\chrome.exe`, `\Microsoft\Edge\Application\msedge.exe`)
	}
	return places
}

// FindBrowser reports the path of a browser that can print: the first on PATH, else in its
// usual place. The error is ErrNoBrowser.
func FindBrowser() (string, error) {
	isFile := func(path string) bool {
		info, err := os.Stat(path)
		return err == nil && info.Mode().IsRegular()
	}
	return findBrowser(exec.LookPath, placesOf(runtime.GOOS, os.Getenv), isFile)
}

func findBrowser(lookPath func(string) (string, error), places []string, isFile func(string) bool) (string, error) {
	for _, name := range onPath {
		if path, err := lookPath(name); err == nil {
			return path, nil
		}
	}
	for _, path := range places {
		if isFile(path) {
			return path, nil
		}
	}
	return "", ErrNoBrowser
}

// A browser is one that nobody sees, with a profile of its own in a folder that goes with
// it. It is driven through two pipes (the DevTools protocol), so that nobody else can.
type browser struct {
	*talk
	cmd     *exec.Cmd
	profile string
	said    *tail
	ended   chan struct{} // closed when the process has ended
	end     sync.Once
}

// flagsOf are the browser's flags. It talks to nothing but the stand's page: what a browser
// asks of the net by itself is off, and no name is looked up.
func flagsOf(profile string, asRoot bool) []string {
	flags := []string{
		"--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--user-data-dir=" + profile,
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-extensions", "--disable-default-apps",
		"--disable-breakpad", "--disable-crash-reporter", "--disable-dev-shm-usage", "--mute-audio", "--no-proxy-server",
		"--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
		"--password-store=basic", "--use-mock-keychain", // it asks for no keys of the player's
	}
	if asRoot { // as in containers: the sandbox refuses to start
		flags = append(flags, "--no-sandbox")
	}
	return flags
}

// startBrowser starts the program.
func startBrowser(program string) (b *browser, err error) {
	profile, err := os.MkdirTemp("", "onward-print-")
	if err != nil {
		return nil, err
	}
	b = &browser{profile: profile, said: &tail{}, ended: make(chan struct{})}
	defer func() {
		if err != nil {
			removeAll(profile)
		}
	}()
	toBrowser, orders, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer toBrowser.Close()
	answers, fromBrowser, err := os.Pipe()
	if err != nil {
		orders.Close()
		return nil, err
	}
	defer fromBrowser.Close()
	b.cmd = exec.Command(program, flagsOf(profile, os.Geteuid() == 0)...)
	b.cmd.Stderr = b.said
	b.cmd.WaitDelay = time.Second // what it leaves behind may hold stderr open
	if err = pipes(b.cmd, toBrowser, fromBrowser); err == nil {
		err = b.cmd.Start()
	}
	if err != nil {
		orders.Close()
		answers.Close()
		return nil, fmt.Errorf("%s: %w", program, err)
	}
	b.talk = newTalk(orders, answers)
	go func() {
		b.cmd.Wait()
		close(b.ended)
	}()
	return b, nil
}

// stopWithin is how long a browser may take to end in order.
const stopWithin = 3 * time.Second

// close ends the browser and takes its folder away. It may be called again.
func (b *browser) close() {
	b.end.Do(func() {
		b.talk.tell("Browser.close")
		b.talk.close()
		select {
		case <-b.ended:
		case <-time.After(stopWithin):
		}
		killGroup(b.cmd) // whatever it has left
		<-b.ended
		removeAll(b.profile)
	})
}

// kill ends the browser at once.
func (b *browser) kill() { killGroup(b.cmd) }

// why says what the browser said last, for an error.
func (b *browser) why() string {
	if words := b.said.last(); words != "" {
		return ": it says: " + words
	}
	return ""
}

// removeAll takes a folder away, patiently: a process that has just been ended may still be
// writing there.
func removeAll(folder string) {
	for range 20 {
		if err := os.RemoveAll(folder); err == nil || errors.Is(err, fs.ErrNotExist) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// A tail keeps the end of what is written to it.
type tail struct {
	mu   sync.Mutex
	text []byte
}

const maxTail = 2000

var _ io.Writer = (*tail)(nil)

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p...)
	t.text = t.text[max(0, len(t.text)-maxTail):]
	return len(p), nil
}

// last reports the last line.
func (t *tail) last() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	lines := strings.Split(strings.TrimSpace(string(t.text)), "\n")
	return strings.TrimSpace(lines[len(lines)-1])
}
