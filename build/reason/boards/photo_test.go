package boards

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/board"
)

// photographed is the shop's notebook with a picture of 700 x 700 pixels on which the
// board lies ten pixels to the millimetre, seen from straight above, and the points given
// as designators with what they are off by in millimetres.
func photographed(t *testing.T, side string, points ...string) (*notebook.Notebook, *notebook.Device) {
	t.Helper()
	n, _ := shop(t)
	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, image.NewGray(image.Rect(0, 0, 700, 700))))
	require.NoError(t, os.WriteFile(filepath.Join(n.Dir, "devices", "w-b1", "top.png"), picture.Bytes(), 0o644))
	file := filepath.Join(n.Dir, "devices", "w-b1.md")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	list := "photos:\n  - file: top.png\n    caption: From above\n    side: " + side + "\n    points:\n"
	for _, p := range points {
		at, off, _ := strings.Cut(p, "+")
		var x, y, dx float64
		if _, err := fmt.Sscanf(map[string]string{"J1": "10 10", "J1.1": "9 10", "R1": "14.25 10", "R9": "60 60", "U1": "30 30", "C1": "6.2 10",
			"R2": "10 13.4", "5;60": "5 60", "60;5": "60 5", "R99": "1 1"}[at], "%g %g", &x, &y); err != nil {
			t.Fatal(at)
		}
		_, _ = fmt.Sscanf(off, "%g", &dx)
		list += fmt.Sprintf("      - {at: %s, x: %.4f, y: %.4f}\n", at, (x+dx)/70, (70-y)/70)
	}
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(text), "views:", list+"views:", 1)), 0o644))
	n, err = notebook.Load(n.Dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	d, _ := n.Device("w-b1")
	return n, d
}

// TestPhotos: pins and millimetres are points as designators are, and every place of the
// board comes out where the picture has it.
func TestPhotos(t *testing.T) {
	n, d := photographed(t, "top", "J1.1", "R9", "5;60", "60;5", "U1")
	list, problems := Photos(n, d)
	require.Empty(t, problems)
	require.Len(t, list, 1)
	assert.Equal(t, board.Top, list[0].Side)
	u, v := list[0].Fit.Photo(14.25, 10)
	assert.InDelta(t, 14.25/70, u, 1e-3)
	assert.InDelta(t, 60.0/70, v, 1e-3)
}

// TestPhotoProblems: what does not fit is said at its place, with what would be right.
func TestPhotoProblems(t *testing.T) {
	for _, c := range []struct {
		side   string
		points []string
		says   string
		laid   int
	}{
		{"top", []string{"J1", "R9", "5;60"}, "3 of 4 points are marked", 0},
		{"top", []string{"J1", "R9", "5;60", "R99"}, `the board has no "R99"; did you mean "R9"?`, 0},
		{"bottom", []string{"J1", "R9", "5;60", "60;5"}, "the points show the board mirrored, so they are of its other side; is this the bottom?", 0},
		{"top", []string{"J1", "R9", "5;60", "60;5", "U1", "R2", "C1+6"}, "C1 lies 6.0 mm from where the other points expect it", 1},
		{"top", []string{"J1", "R9", "5;60", "60;5", "U1+9"}, "the points do not go together", 1},
	} {
		n, d := photographed(t, c.side, c.points...)
		list, problems := Photos(n, d)
		assert.Len(t, list, c.laid, c.says)
		require.NotEmpty(t, problems, c.says)
		assert.Contains(t, problems[0].Message, c.says)
		assert.Positive(t, problems[0].Line, c.says)
		assert.Equal(t, problems, PhotoProblems(n))
	}
}

// TestPhotosOfTheExample: every picture of the example is laid onto its board within
// two tenths of a millimetre, and none is without.
func TestPhotosOfTheExample(t *testing.T) {
	n := workshop.Load(t)
	laid := 0
	for _, d := range n.Devices {
		list, problems := Photos(n, d)
		assert.Empty(t, problems)
		for _, p := range list {
			laid++
			assert.True(t, p.Fit.Checked, p.Path)
			assert.Less(t, p.Fit.RMS, 0.2, p.Path)
			assert.Empty(t, p.Fit.Left, p.Path)
		}
	}
	assert.Equal(t, 13, laid)
}

func TestFindPin(t *testing.T) {
	_, d := shop(t)
	b := d.Boards[0].Board
	p, pin, err := FindPin(b, "u1.3")
	require.NoError(t, err)
	assert.Equal(t, []string{"U1", "3"}, []string{p.Ref, pin.Name})
	p, pin, err = FindPin(b, "R9")
	require.NoError(t, err)
	assert.Nil(t, pin)
	assert.Equal(t, "R9", p.Ref)
	for text, says := range map[string]string{"U1.9": `U1 has no pin "9"; it has 1 to 3`, "U2.1": `the board has no "U2"`, "C9.1": "the pins of C9 are not known",
		"": "the board has no"} {
		_, _, err := FindPin(b, text)
		assert.ErrorContains(t, err, says, text)
	}
}
