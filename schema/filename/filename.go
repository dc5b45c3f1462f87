// Package filename says which names every file system can have, and which it takes for
// one. A notebook travels between Linux, Windows and macOS and in archives, so a name that
// one of them refuses or means otherwise is refused wherever one comes in or is made.
package filename

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Limits in bytes. File systems take 255 of one name; a notebook's folder needs room too.
const (
	maxPath = 400
	maxName = 200
)

// reserved are the names that Windows keeps for devices, whatever ending follows, blanks
// and capitals notwithstanding (Microsoft, Naming Files, Paths, and Namespaces).
var reserved = regexp.MustCompile(`(?i)^(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$) *(?:\..*)?$`)

// Check reports why a name cannot be that of a file or folder everywhere, nil where it can.
// A name that begins with a point is one of a hidden file and refused too.
func Check(name string) error {
	switch {
	case name == "" || len(name) > maxName:
		return fmt.Errorf("a name has 1 to %d bytes", maxName)
	case !utf8.ValidString(name):
		return errors.New("a name is UTF-8")
	case strings.ContainsAny(name, `/\:*?"<>|`):
		return errors.New(`a name has none of / \ : * ? " < > |`)
	case strings.ContainsFunc(name, func(r rune) bool {
		return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
	}):
		return errors.New("a name has no invisible characters")
	case strings.HasPrefix(name, "."):
		return errors.New("a name does not begin with a point")
	case strings.HasSuffix(name, ".") || strings.HasSuffix(name, " ") || strings.HasPrefix(name, " "):
		return errors.New("a name does not end with a point or blank")
	case reserved.MatchString(name):
		return fmt.Errorf("the name %q is kept by Windows for itself", name)
	}
	return nil
}

// CheckPath is [Check] for each part of a path with slashes that leads down from the top of
// a folder.
func CheckPath(name string) error {
	switch {
	case name == "" || len(name) > maxPath:
		return fmt.Errorf("a path has 1 to %d bytes", maxPath)
	case !fs.ValidPath(name) || name == ".":
		return errors.New("a path is UTF-8 and leads down from the top, without .. and without a first /")
	}
	for part := range strings.SplitSeq(name, "/") {
		if err := Check(part); err != nil {
			return err
		}
	}
	return nil
}

// Fold is equal for names that some file system takes for one, since it tells neither
// capitals nor the composition of letters apart.
func Fold(name string) string {
	return norm.NFKC.String(cases.Fold().String(norm.NFKC.String(name)))
}
