package picture

import (
	"image"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDecodingWaits: pictures that are taken at the same time share one limit of
// pixels.
func TestDecodingWaits(t *testing.T) {
	data := pngOf(t, image.NewGray(image.Rect(0, 0, 100, 100)))
	synctest.Test(t, func(t *testing.T) {
		require.True(t, decoding.TryAcquire(MaxPixels-100*100+1))
		done := false
		go func() {
			_, err := Take(data)
			assert.NoError(t, err)
			done = true
		}()
		synctest.Wait()
		assert.False(t, done, "there is room for one pixel less than it has")
		decoding.Release(MaxPixels - 100*100 + 1)
		synctest.Wait()
		assert.True(t, done)
	})
}
