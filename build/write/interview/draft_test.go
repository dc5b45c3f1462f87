package interview

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTwoInterviews: two at once keep their answers apart, from the first answer on, and
// the end of one takes nothing of the other's away.
func TestTwoInterviews(t *testing.T) {
	dir, now := t.TempDir(), time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	one, two := NewDraft(dir, "", now), NewDraft(dir, "", now)
	require.NoError(t, one.put("title", "Lamp of one"))
	require.NoError(t, two.put("title", "Radio of two"))
	require.NoError(t, one.put("by", "AA"))
	require.NoError(t, two.put("by", "BB"))
	assert.NotEqual(t, one.Path(), two.Path())
	again, err := ReadDraft(dir, "")
	require.NoError(t, err)
	assert.Equal(t, one.Answers, again.Answers)
	other := &Draft{dir: dir, path: two.path}
	require.NoError(t, two.Done())
	require.NoError(t, two.Done(), "once more does nothing")
	require.NoError(t, again.put("board", "goes on with the answers of one"))
	require.NoError(t, one.Done())
	left, err := ReadDraft(dir, "")
	require.NoError(t, err)
	require.NotNil(t, left, "what somebody has added since stays")
	assert.Equal(t, again.Answers, left.Answers)
	require.NoError(t, again.Done())
	left, err = ReadDraft(dir, "")
	require.NoError(t, err)
	assert.Nil(t, left)
	assert.NoFileExists(t, other.Path())
}
