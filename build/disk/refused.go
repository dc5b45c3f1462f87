package disk

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// Refusal is why a disk took no write.
type Refusal string

// The refusals that are told apart.
const (
	ReadOnly   Refusal = "read-only"     // the disk is mounted so (EROFS)
	NotAllowed Refusal = "not allowed"   // the rights of the folder or file (EACCES, EPERM)
	Full       Refusal = "no space left" // ENOSPC, EDQUOT
)

// Refused says why a disk took no write, and the file or folder that it was about; ok is
// false for any other error. What is refused when reading looks the same.
func Refused(err error) (why Refusal, name string, ok bool) {
	switch {
	case isReadOnly(err):
		why = ReadOnly
	case isFull(err):
		why = Full
	case errors.Is(err, fs.ErrPermission):
		why = NotAllowed
	default:
		return "", "", false
	}
	var at *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &at):
		name = at.Path
	case errors.As(err, &link):
		name = link.New
	}
	return why, name, true
}

// Advice says what can be done where a disk took no write; "" for any other error.
func Advice(err error) string {
	why, name, ok := Refused(err)
	if !ok {
		return ""
	}
	if name == "" {
		name = "a file"
	}
	switch why {
	case ReadOnly:
		return fmt.Sprintf("the disk is read-only, so %s cannot be written; nothing was changed. Make the disk writable (a switch on the card, or how it is mounted), or copy the notebook to one that is", name)
	case Full:
		return fmt.Sprintf("the disk is full, so %s cannot be written; what was there is whole. Make room, and do it again", name)
	}
	return fmt.Sprintf("this user may not read or write %s; nothing was changed there. Change the rights of the folder, or ask whoever it belongs to", name)
}
