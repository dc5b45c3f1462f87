package site

import (
	"encoding/json"
	"path/filepath"
	"slices"

	"benchlore/build/disk"
)

// ManifestFile is the file by which the folder of a site is known.
const ManifestFile = manifestName

// mostKnown is how many sites of a notebook are remembered, and maxKnown the most that is
// read of them, in bytes.
const (
	mostKnown = 100
	maxKnown  = 1 << 20
)

// KnownList is the file, inside the notebook in dir, that remembers where it was published;
// "" where nothing can be kept.
func KnownList(dir string) string {
	name, ok := disk.Derived(dir, "sites.json")
	if !ok {
		return ""
	}
	return name
}

// Known are the folders that the notebook in dir was published to from this installation,
// as far as that is remembered: the latest last. They may have been moved or taken away.
func Known(dir string) (out []string) {
	name := KnownList(dir)
	if name == "" {
		return nil
	}
	text, err := disk.Folder(dir).Read(name, maxKnown)
	if err != nil || json.Unmarshal(text, &out) != nil {
		return nil
	}
	return out
}

// remember keeps where the notebook was published; it is only a help.
func remember(dir, out string) {
	name := KnownList(dir)
	abs, err := filepath.Abs(out)
	if err != nil || name == "" {
		return
	}
	list := Known(dir)
	if len(list) > 0 && list[len(list)-1] == abs {
		return
	}
	list = append(slices.DeleteFunc(list, func(s string) bool { return s == abs }), abs)
	if text, err := json.Marshal(list[max(0, len(list)-mostKnown):]); err == nil {
		_ = disk.Folder(dir).Write(name, text)
	}
}
