package exchange

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/terms"
)

// endless gives the same bytes for ever and counts them.
type endless struct {
	text string
	read int
}

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e.text[(e.read+i)%len(e.text)]
	}
	e.read += len(p)
	return len(p), nil
}

const floodHead = "id,problem,product_category,repair_status,event_date\n"

// TestImportFloods: rows without end and a row without end stop at their limit, which the
// error names, and no more is read than that.
func TestImportFloods(t *testing.T) {
	take := func(r io.Reader, most importLimits) (Summary, error) {
		return importORDS(context.Background(), r, t.TempDir(), terms.Builtin(), Options{}, func(BadRow) {}, most)
	}
	sum, err := take(io.MultiReader(strings.NewReader(floodHead), &endless{text: "x\n"}), importLimits{rows: 7, row: 100})
	require.ErrorIs(t, err, ErrTooMuch)
	assert.ErrorContains(t, err, "7 rows")
	assert.Equal(t, 7, sum.Rows)
	_, err = take(strings.NewReader(floodHead+strings.Repeat("x\n", 7)), importLimits{rows: 7, row: 100})
	assert.NoError(t, err, "at the limit")

	for name, row := range map[string][2]string{"an open quote": {"\"", "a\n"}, "one line": {"", "a"}, "many fields": {"", "a,"}} {
		flood := &endless{text: row[1]}
		_, err = take(io.MultiReader(strings.NewReader(floodHead+row[0]), flood), importLimits{rows: 7, row: 10_000})
		require.ErrorIs(t, err, ErrTooMuch, name)
		assert.ErrorContains(t, err, "10000 bytes", name)
		assert.Less(t, flood.read, 200_000, name) // with what is read ahead
	}
	head := &endless{text: "a"}
	_, err = take(head, importLimits{rows: 7, row: 10_000})
	assert.True(t, errors.Is(err, ErrTooMuch), "a first row without end: %v", err)
	assert.Less(t, head.read, 200_000)
}
