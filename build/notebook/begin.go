package notebook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"benchlore/build/disk"

	"go.yaml.in/yaml/v3"
)

// ErrNotEmpty is returned by [Begin] for a folder that holds files already.
var ErrNotEmpty = errors.New("the folder holds files already")

// Begin makes a new notebook in dir and returns the files it wrote. A folder
// with files in it is left alone unless force is set, and no file is ever
// overwritten.
func Begin(dir, name string, force bool) (written []string, err error) {
	if strings.TrimSpace(name) == "" || strings.ContainsAny(name, "\r\n") || len(name) > 300 {
		return nil, fmt.Errorf("a name is one line of text: %w", fs.ErrInvalid)
	}
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s cannot be used: %w", dir, errors.Join(reason(err), fs.ErrInvalid))
	}
	// What an earlier run was killed while writing is nothing yet.
	entries = slices.DeleteFunc(entries, func(e fs.DirEntry) bool { return disk.Temporary(e.Name()) })
	if len(entries) > 0 && !force {
		return nil, fmt.Errorf("%w: %s", ErrNotEmpty, dir)
	}
	title, err := yaml.Marshal(name)
	if err != nil {
		return nil, err
	}
	files := []struct{ name, text string }{
		{"notebook.yaml", "name: " + string(title) + "language: en\ncurrency: EUR\n"},
		{"terms/own.yaml", "# Words of this workshop, beside the built-in ones (`benchlore terms`). For example:\n" +
			"# places:\n#   - {id: turntable-lift, name: Turntable lift, meaning: The lever that lowers the arm., also: [cue lever]}\n"},
		{".gitignore", ".benchlore/\n"},
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	for _, f := range files {
		path := filepath.Join(dir, filepath.FromSlash(f.name))
		switch err := disk.Folder(dir).Create(f.name, []byte(f.text)); {
		case err == nil:
			written = append(written, path)
		case errors.Is(err, fs.ErrExist):
		default:
			return written, err
		}
	}
	for _, sub := range []string{"cases", "devices"} {
		if err := disk.Folder(dir).MkdirAll(sub); err != nil {
			return written, err
		}
	}
	return written, nil
}
