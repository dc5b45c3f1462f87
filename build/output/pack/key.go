package pack

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"benchlore/build/disk"

	"aead.dev/minisign"
)

// NewKey makes a key pair in minisign's format in a folder of its own: the
// private key with permissions for its owner alone, and the public one to hand
// out. Files that are there are never replaced.
func NewKey(dir string) (private, public string, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", "", err
	}
	private, public = filepath.Join(dir, "benchlore.key"), filepath.Join(dir, "benchlore.pub")
	for _, name := range []string{private, public} {
		if _, err := os.Lstat(name); err == nil {
			return "", "", fmt.Errorf("%s is there already: %w", name, fs.ErrExist)
		}
	}
	pub, key, err := minisign.GenerateKey(rand.Reader)
	if err != nil {
		return "", "", err
	}
	text, err := key.MarshalText()
	if err != nil {
		return "", "", err
	}
	f, err := os.OpenFile(private, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", "", err
	}
	_, err = f.Write(append(text, '\n'))
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return "", "", err
	}
	text, err = pub.MarshalText()
	if err != nil {
		return "", "", err
	}
	return private, public, disk.CreateFile(public, append(text, '\n'))
}

// SignatureEnding is what the name of a pack's signature has behind that of the pack.
const SignatureEnding = ".minisig"

// Sign writes the detached signature of a pack beside it, FILE.minisig.
func Sign(name, keyFile string) (signature string, err error) {
	info, err := os.Stat(keyFile)
	if err != nil {
		return "", err
	}
	if info.Mode().Perm()&0o077 != 0 {
		return "", fmt.Errorf("%s can be read by others; make it yours alone first (chmod 600)", keyFile)
	}
	text, err := disk.ReadFile(keyFile, maxKey)
	if err != nil {
		return "", err
	}
	var key minisign.PrivateKey
	if err := key.UnmarshalText(text); err != nil {
		return "", fmt.Errorf("%s is no private key in minisign's format: %w", keyFile, err)
	}
	f, err := disk.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	r := minisign.NewReader(f)
	if _, err := io.Copy(io.Discard, r); err != nil {
		return "", err
	}
	signature = name + SignatureEnding
	// No time in the comment: equal packs have equal signatures.
	return signature, disk.WriteFile(signature, r.SignWithComments(key, signedComment(filepath.Base(name), key), "signature of a benchlore pack"))
}
