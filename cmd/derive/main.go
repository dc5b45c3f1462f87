// Command derive makes the data that were learned from the records of others anew, as
// schema/sources/sources.yaml lists them:
//
//	go run ./cmd/derive --from FOLDER
//
// FOLDER holds the files of the records. A file whose SHA-256 sum is not the one listed is
// named and nothing is made, unless --anyway is given; so is a result whose sum is another,
// which is written all the same. With --check nothing is written. It ends with 1 where a
// sum differs, 2 on wrong usage.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"benchlore/build/disk"
	"benchlore/schema/sources"
)

var errDiffers = errors.New("a sum is not as schema/sources/sources.yaml lists it")

func main() {
	from := flag.String("from", "", "the folder of the records")
	check := flag.Bool("check", false, "compare only, write nothing")
	anyway := flag.Bool("anyway", false, "go on where a file of the records differs, as with a newer release")
	flag.Parse()
	if *from == "" || flag.NArg() > 0 {
		fmt.Fprintln(os.Stderr, "derive: --from is missing, or there is an argument too many; as in: go run ./cmd/derive --from ../records")
		os.Exit(2)
	}
	if err := run(os.Stdout, sources.All(), *from, ".", *check, *anyway, generate); err != nil {
		fmt.Fprintln(os.Stderr, "derive:", err)
		os.Exit(1)
	}
}

// run looks at every input first, so that nothing is made from a folder that lacks one.
func run(w io.Writer, list []sources.Source, from, top string, check, anyway bool, generate func(top string, args []string) error) error {
	differs := false
	for _, s := range list {
		for _, in := range s.Inputs {
			have, err := disk.Sum(filepath.Join(from, in.File))
			if err != nil {
				return err
			}
			differs = said(w, in.File, in.SHA256, have) || differs
		}
	}
	if differs && !anyway {
		return errDiffers
	}
	from, err := filepath.Abs(from)
	if err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "derive-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	for _, s := range list {
		for _, d := range s.Derived {
			if len(d.Command) == 0 {
				fmt.Fprintf(w, "%s: made by people, no command makes it\n", d.File)
				continue
			}
			made := filepath.Join(work, filepath.Base(d.File))
			args := []string{"run"}
			for _, a := range d.Command {
				args = append(args, strings.NewReplacer("$IN", from, "$OUT", made).Replace(a))
			}
			if err := generate(top, args); err != nil {
				return fmt.Errorf("%s: %w", d.File, err)
			}
			have, err := disk.Sum(made)
			if err != nil {
				return err
			}
			differs = said(w, d.File, d.SHA256, have) || differs
			if check {
				continue
			}
			data, err := os.ReadFile(made)
			if err != nil {
				return err
			}
			target := filepath.Join(top, filepath.FromSlash(d.File))
			if err := disk.WriteFile(target, data); err != nil {
				return err
			}
		}
	}
	if differs {
		return errDiffers
	}
	return nil
}

func generate(top string, args []string) error {
	cmd := exec.Command("go", args...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = top, io.Discard, os.Stderr
	return cmd.Run()
}

// said prints whether a sum is the one listed.
func said(w io.Writer, name, want, have string) (differs bool) {
	if want == have {
		fmt.Fprintf(w, "%s: as listed\n", name)
		return false
	}
	fmt.Fprintf(w, "%s: differs, SHA-256 is %s and not %s\n", name, have, want)
	return true
}
