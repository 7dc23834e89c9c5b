package userfile

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func write(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestRead(t *testing.T) {
	path := write(t, "a march")
	if text, err := Read(t.Context(), path, 7); err != nil || string(text) != "a march" {
		t.Errorf("got %q, %v", text, err)
	}
	if text, err := Read(t.Context(), write(t, ""), 0); err != nil || len(text) != 0 {
		t.Errorf("an empty file: %q, %v", text, err)
	}
	for _, c := range []struct {
		name, path string
		most       int64
		want       string
	}{
		{"one byte too many", path, 6, "it has 7 bytes, more than the 6"},
		{"a folder", filepath.Dir(path), 100, "it is a folder"},
		{"the null device", os.DevNull, 100, "it is a device"},
	} {
		text, err := Read(t.Context(), c.path, c.most)
		var at *fs.PathError
		if text != nil || !errors.As(err, &at) || at.Path != c.path || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %q, %v, want %q", c.name, text, err, c.want)
		}
	}
	if _, err := Read(t.Context(), path+"-not-there", 100); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("nothing there: %v", err)
	}
}

// What is written to a file while it is read is not waited for.
func TestAFileThatGrows(t *testing.T) {
	path := write(t, "one")
	f, err := Open(t.Context(), path, 100)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := os.WriteFile(path, []byte("one and two"), 0o600); err != nil {
		t.Fatal(err)
	}
	if text, err := io.ReadAll(f); err != nil || string(text) != "one" || f.Size() != 3 {
		t.Errorf("got %q of %d bytes, %v", text, f.Size(), err)
	}
}

// slow is a file on a drive that does not answer before it is let go.
type slow struct {
	letGo chan struct{}
	text  string
}

func (s slow) ReadAt(p []byte, _ int64) (int, error) {
	<-s.letGo
	return copy(p, s.text), nil
}

func TestADriveThatIsAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, leaves := range []bool{false, true} {
			ctx, stop := context.WithCancel(t.Context())
			drive := slow{make(chan struct{}), "late"}
			on := &bounded{ctx: ctx, from: drive}
			f, err := os.Open(os.DevNull)
			if err != nil {
				t.Fatal(err)
			}
			file := &File{io.NewSectionReader(on, 0, 4), f, on}
			if leaves {
				time.AfterFunc(time.Second, stop)
			}
			began := time.Now()
			p := []byte("----")
			n, err := file.Read(p)
			want, lasted := errSilent, Patience
			if leaves {
				want, lasted = context.Canceled, time.Second
			}
			if n != 0 || !errors.Is(err, want) || time.Since(began) != lasted {
				t.Errorf("leaves %v: %d bytes, %v after %v", leaves, n, err, time.Since(began))
			}
			close(drive.letGo)
			synctest.Wait()
			if string(p) != "----" {
				t.Errorf("what was given up is written to: %q", p)
			}
			if !on.givenUp.Load() {
				t.Error("closing would wait for it")
			}
			file.Close()
			stop()
		}
	})
}

func TestNothingIsOpenedForWhoHasLeft(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	path := write(t, "a march")
	f, err := Open(ctx, path, 100)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	stop()
	if _, err := io.ReadAll(f); !errors.Is(err, context.Canceled) {
		t.Errorf("read on: %v", err)
	}
}
