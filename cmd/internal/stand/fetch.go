//go:build ignore

// Fetch puts the engraver into its folder: go generate ./cmd/internal/stand runs it.
//
//	go run fetch.go [-from TARBALL] [-to FOLDER]
//
// It has npm, as it is set up on this machine, bring the package; -from takes a tarball
// that came another way. Either is used only if it is the very one that is pinned here.
package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
)

// The package, and its integrity as npm's registry has it: the SHA-512 of the tarball.
const (
	pinned    = "verovio@6.3.0"
	integrity = "1p6WhP/w3WrAhPVDTNUDH9UVPAZOnHnZVTWxclE8haHccVI/q8c+99vLH6rRgL9MuYaFR9HF4UJD6MyW2CfMwg=="
)

// wanted are the files of the package that the page needs, and what says whose they are.
// Those that are large are kept packed.
var wanted = map[string]string{
	"package/dist/verovio-module.mjs": "verovio-module.mjs.gz",
	"package/dist/verovio.mjs":        "verovio.mjs",
	"package/package.json":            "package.json",
}

// maxTarball is more than the package has, 12 MB packed; what unpacks to more than
// maxFile is refused.
const (
	maxTarball = 64 << 20
	maxFile    = 64 << 20
)

func main() {
	from := flag.String("from", "", "take the package from this `TARBALL`, made by: npm pack "+pinned)
	to := flag.String("to", "engraver", "put its files into this `FOLDER`")
	flag.Parse()
	if err := fetch(*from, *to); err != nil {
		fmt.Fprintln(os.Stderr, "fetch:", err)
		os.Exit(1)
	}
}

// fetch writes all of the wanted files or none.
func fetch(from, to string) error {
	if from == "" && complete(to) {
		return nil
	}
	tarball, err := bring(from)
	if err != nil {
		return err
	}
	if sum := sha512.Sum512(tarball); base64.StdEncoding.EncodeToString(sum[:]) != integrity {
		return fmt.Errorf("what came is not %s as it is pinned: nothing is written", pinned)
	}
	files, err := unpack(tarball)
	if err != nil {
		return err
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(to, name+".part"), text, 0o644); err != nil {
			return err
		}
	}
	for name := range files {
		if err := os.Rename(filepath.Join(to, name+".part"), filepath.Join(to, name)); err != nil {
			return err
		}
	}
	fmt.Printf("%s is in %s: build the program again\n", pinned, to)
	return nil
}

// complete reports whether the folder has all files, of this version.
func complete(to string) bool {
	for _, name := range wanted {
		if _, err := os.Stat(filepath.Join(to, name)); err != nil {
			return false
		}
	}
	says, err := os.ReadFile(filepath.Join(to, "package.json"))
	return err == nil && bytes.Contains(says, []byte(`"version": "6.3.0"`))
}

// bring reads the tarball, or has npm bring it.
func bring(from string) ([]byte, error) {
	if from == "" {
		room, err := os.MkdirTemp("", "onward-engraver-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(room)
		npm := exec.Command("npm", "pack", "--silent", "--ignore-scripts", "--pack-destination", room, pinned)
		if out, err := npm.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("npm pack %s: %w\n%sWithout npm: have the tarball made elsewhere and name it with -from", pinned, err, out)
		}
		from = filepath.Join(room, "verovio-6.3.0.tgz")
	}
	f, err := os.Open(from)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	tarball, err := io.ReadAll(io.LimitReader(f, maxTarball+1))
	if len(tarball) > maxTarball {
		return nil, fmt.Errorf("%s is larger than %d bytes", from, maxTarball)
	}
	return tarball, err
}

// unpack reports the wanted files by the names they get.
func unpack(tarball []byte) (map[string][]byte, error) {
	plain, err := gzip.NewReader(bytes.NewReader(tarball))
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	for in := tar.NewReader(plain); ; {
		head, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		name, ok := wanted[head.Name]
		if !ok || head.Size > maxFile {
			continue
		}
		text, err := io.ReadAll(in)
		if err != nil {
			return nil, err
		}
		if files[name], err = packed(name, text); err != nil {
			return nil, err
		}
	}
	if len(files) != len(wanted) {
		return nil, fmt.Errorf("%s has %d of the %d files that are wanted", pinned, len(files), len(wanted))
	}
	return files, nil
}

// packed packs a file whose name ends in .gz.
func packed(name string, text []byte) ([]byte, error) {
	if filepath.Ext(name) != ".gz" {
		return text, nil
	}
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(text); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
