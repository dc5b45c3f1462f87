package editor

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadOnlyNotebook: on a disk that is read-only the notebook is shown and says so in its
// language, and is written in once the disk takes writes; one that becomes read-only under
// a server is said, too. It needs to mount one, which takes root.
func TestReadOnlyNotebook(t *testing.T) {
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=16m"); err != nil {
		t.Skipf("a small file system cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, syscall.MNT_DETACH)) })
	readOnly := func(yes bool) {
		flags := uintptr(syscall.MS_REMOUNT)
		if yes {
			flags |= syscall.MS_RDONLY
		}
		require.NoError(t, syscall.Mount("", disk, "", flags, ""))
	}
	for language, words := range map[string][2]string{
		"en": {"The notebook&#39;s disk is read-only: everything is shown", "The notebook's disk is read-only, so nothing was written."},
		"de": {"Der Datenträger des Hefts lässt nur Lesen zu: Alles", "Der Datenträger des Hefts lässt nur Lesen zu, deshalb wurde nichts geschrieben."},
		"fr": {"Le disque du carnet est en lecture seule : tout", "Le disque du carnet est en lecture seule, donc rien n’a été écrit."},
	} {
		readOnly(false)
		dir := filepath.Join(disk, language)
		require.NoError(t, os.CopyFS(dir, os.DirFS(oneCase(t, language))))
		readOnly(true)
		x := serveDir(t, dir, Options{})
		code, page, _ := x.do(ask{method: http.MethodGet, path: "/write/case/2026-0001"})
		assert.Equal(t, http.StatusOK, code)
		assert.True(t, strings.Contains(page, words[0]), language)
		assert.Contains(t, page, "It flickers.")
		code, body, _ := x.do(changeTitle("Lamp flickers", "Lamp is dark"))
		assert.Equal(t, http.StatusLocked, code)
		assert.NotContains(t, body, dir)
		readOnly(false)
		x.s.lookAgain("127.0.0.1:1")
		code, body, _ = x.do(changeTitle("Lamp flickers", "Lamp is dark"))
		assert.Equal(t, http.StatusOK, code, body)
		// It becomes read-only while the server holds the notebook.
		x.s.presence.Leave()
		readOnly(true)
		code, body, _ = x.do(changeTitle("Lamp is dark", "Lamp is dim"))
		assert.Equal(t, http.StatusForbidden, code)
		assert.Contains(t, body, words[1])
		assert.NotContains(t, body, dir)
		assert.Equal(t, "Lamp is dark", loaded(t, dir, "2026-0001").File.Case.Title)
		readOnly(false)
	}
}
