// Command release builds the program for all systems that it is made for, one
// archive each, and their SHA-256 sums. Equal sources and an equal Go give equal
// bytes, wherever and whenever it runs.
package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

var systems = []string{"linux/amd64", "linux/arm64", "windows/amd64", "windows/arm64", "darwin/amd64", "darwin/arm64"}

// epoch stands in for the time of every file, since that of building would differ.
var epoch = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

func main() {
	log.SetFlags(0)
	log.SetPrefix("release: ")
	out := flag.String("out", "release", "the folder for the archives")
	version := flag.String("version", "", "the version that the program says it is, such as 1.2.0")
	only := flag.String("only", "", "one system, such as linux/amd64, instead of all")
	flag.Parse()
	if *version == "" || flag.NArg() > 0 {
		log.Print("--version is missing, or there is an argument too many; as in: go run ./cmd/release --version 1.2.0")
		os.Exit(2)
	}
	if err := release(*out, *version, *only); err != nil {
		log.Fatal(err)
	}
}

func release(out, version, only string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "release-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	manuals, err := manual(work)
	if err != nil {
		return err
	}
	var sums strings.Builder
	for _, system := range systems {
		if only != "" && only != system {
			continue
		}
		goos, goarch, _ := strings.Cut(system, "/")
		program := "benchlore"
		if goos == "windows" {
			program += ".exe"
		}
		built := filepath.Join(work, goos+"-"+goarch, program)
		if err := build(built, goos, goarch, version); err != nil {
			return err
		}
		name := fmt.Sprintf("benchlore-%s-%s-%s", version, goos, goarch)
		files := []file{{program, built, 0o755}, {"README.md", "README.md", 0o644}, {"THIRD-PARTY.txt", "cmd/benchlore/notices.txt", 0o644}}
		write, ending := tarGz, ".tar.gz"
		if goos == "windows" {
			write, ending = zipped, ".zip"
		} else {
			files = append(files, manuals...)
		}
		data, err := write(name, files)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(out, name+ending), data, 0o644); err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(data), name+ending)
		fmt.Printf("%s  %.1f MB\n", name+ending, float64(len(data))/1e6)
	}
	return os.WriteFile(filepath.Join(out, "SHA256SUMS"), []byte(sums.String()), 0o644)
}

// build leaves out everything that differs from one machine to the next.
func build(target, goos, goarch, version string) error {
	cmd := exec.Command("go", "build", "-trimpath", "-buildvcs=false", "-ldflags",
		"-s -w -buildid= -X main.release="+version, "-o", target, "./cmd/benchlore")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+goos, "GOARCH="+goarch, "GOFLAGS=", "GOAMD64=v1", "GOARM64=v8.0")
	cmd.Stderr = os.Stderr
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s/%s: %w", goos, goarch, err)
	}
	return nil
}

// manual writes the manual pages, which are the same for all systems.
func manual(work string) ([]file, error) {
	dir := filepath.Join(work, "man")
	cmd := exec.Command("go", "run", "./cmd/benchlore", "manual", "--out", dir)
	cmd.Stderr = os.Stderr
	if err := cmd.Run(); err != nil {
		return nil, err
	}
	pages, err := filepath.Glob(filepath.Join(dir, "*.1"))
	var files []file
	for _, p := range pages {
		files = append(files, file{"man/man1/" + filepath.Base(p), p, 0o644})
	}
	return files, err
}

type file struct {
	name, path string
	mode       int64
}

func tarGz(folder string, files []file) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	t := tar.NewWriter(z)
	for _, f := range files {
		data, err := os.ReadFile(f.path)
		if err != nil {
			return nil, err
		}
		if err := t.WriteHeader(&tar.Header{Name: folder + "/" + f.name, Mode: f.mode, Size: int64(len(data)),
			ModTime: epoch, Format: tar.FormatUSTAR}); err != nil {
			return nil, err
		}
		if _, err := t.Write(data); err != nil {
			return nil, err
		}
	}
	if err := t.Close(); err != nil {
		return nil, err
	}
	err = z.Close()
	return b.Bytes(), err
}

func zipped(folder string, files []file) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: folder + "/" + f.name, Method: zip.Deflate, Modified: epoch}
		h.SetMode(os.FileMode(f.mode))
		w, err := z.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		src, err := os.Open(f.path)
		if err != nil {
			return nil, err
		}
		_, err = io.Copy(w, src)
		src.Close()
		if err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}
