package pack

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/hostile"
)

func written(t testing.TB, h hostile.Notebook) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range h.Files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o755))
		require.NoError(t, os.WriteFile(p, []byte(text), 0o644))
	}
	return dir
}

func checked(t testing.TB, dir string) {
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	_ = verdict.New(n).Problems()
}

// TestHostileNotebooksCostLittle counts what is allocated to check a small hostile
// notebook: work that grows with the square of a size shows in it at once. Seconds are left
// to BenchmarkHostileNotebooks.
func TestHostileNotebooksCostLittle(t *testing.T) {
	// A reader of the workshop's own words is made for each notebook that has any, and takes
	// most of this.
	const size, most = 24_000, 220 << 20
	checked(t, written(t, hostile.Ordinary(size))) // what is made once
	for _, h := range hostile.Notebooks(size) {
		dir := written(t, h)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		checked(t, dir)
		runtime.ReadMemStats(&after)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(most), h.Name)
	}
}

// TestSmallPacksStaySmall: no hostile pack unpacks to more than its size allows.
func TestSmallPacksStaySmall(t *testing.T) {
	taken := 0
	for _, size := range []int{24_000, 2_000_000} {
		for _, h := range append(hostile.Notebooks(size)[:30], hostile.Ordinary(size)) {
			data := hostile.Pack(h.Files)
			total := 0
			for _, text := range contents(t, data) {
				total += len(text)
			}
			name := filepath.Join(t.TempDir(), "a.zip")
			require.NoError(t, os.WriteFile(name, data, 0o644))
			p, err := Open(name, "")
			if err != nil {
				assert.ErrorContains(t, err, "it would grow from", h.Name)
				assert.Greater(t, total, maxRoom, h.Name)
				continue
			}
			p.Close()
			taken++
			assert.LessOrEqual(t, total, maxRatio*len(data)+maxRoom, h.Name)
		}
	}
	assert.Greater(t, taken, 20)
}

// BenchmarkHostileNotebooks prints seconds and bytes of checking each hostile notebook of
// a hundred kilobytes, beside an ordinary one.
func BenchmarkHostileNotebooks(b *testing.B) {
	const size = 95_000
	for _, h := range append([]hostile.Notebook{hostile.Ordinary(size)}, hostile.Notebooks(size)...) {
		b.Run(strings.ReplaceAll(h.Name, " ", "-"), func(b *testing.B) {
			dir := written(b, h)
			b.ReportAllocs()
			for b.Loop() {
				checked(b, dir)
			}
		})
	}
}
