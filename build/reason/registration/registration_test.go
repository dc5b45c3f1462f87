package registration

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// camera is a pinhole camera that looks at a board, worked out here from angles and
// distances alone: it shares no code with what is tested.
type camera struct {
	tilt, turn, roll float64 // radians
	far              float64 // mm from the middle of the board
	focal            float64 // pixels
	bend             float64
	bottom           bool
	w, h             float64
}

func (c camera) see(x, y float64) (u, v float64) {
	X, Y := x-60, 40-y // a board of 120 x 80 mm, its middle in view, downwards
	if c.bottom {
		X = -X
	}
	X, Y = X*math.Cos(c.roll)-Y*math.Sin(c.roll), X*math.Sin(c.roll)+Y*math.Cos(c.roll)
	Z := 0.0
	Y, Z = Y*math.Cos(c.tilt), Y*math.Sin(c.tilt)
	X, Z = X*math.Cos(c.turn)+Z*math.Sin(c.turn), Z*math.Cos(c.turn)-X*math.Sin(c.turn)
	px, py := c.focal*X/(Z+c.far), c.focal*Y/(Z+c.far)
	half := math.Hypot(c.w, c.h) / 2
	r2 := (px*px + py*py) / (half * half)
	return (c.w/2 + px*(1+c.bend*r2)) / c.w, (c.h/2 + py*(1+c.bend*r2)) / c.h
}

var oblique = camera{tilt: 0.3, turn: -0.2, roll: 0.4, far: 250, focal: 3600, w: 4000, h: 3000}

// marked are points on a grid over the board, as the camera sees them, each off by a
// normal error of so many pixels.
func marked(c camera, columns, rows int, noise float64, r *rand.Rand) []Point {
	var out []Point
	for i := range columns {
		for j := range rows {
			x, y := 5+110*float64(i)/float64(columns-1), 5+70*float64(j)/float64(rows-1)
			u, v := c.see(x, y)
			if noise > 0 {
				u, v = u+noise*r.NormFloat64()/c.w, v+noise*r.NormFloat64()/c.h
			}
			out = append(out, Point{fmt.Sprintf("P%d", i*rows+j+1), [2]float64{x, y}, [2]float64{u, v}})
		}
	}
	return out
}

// TestExact: without error in the marks the fit is the camera, there and back, from four
// points as from many, from either side and with a lens that bends.
func TestExact(t *testing.T) {
	bending := oblique
	bending.bend = -0.08
	below := oblique
	below.bottom = true
	for name, c := range map[string]struct {
		camera
		columns, rows int
		bottom        bool
	}{"four": {oblique, 2, 2, false}, "twelve": {oblique, 4, 3, false}, "lens": {bending, 4, 3, false}, "below": {below, 3, 2, true}} {
		f, err := New(marked(c.camera, c.columns, c.rows, 0, nil), int(c.w), int(c.h))
		require.NoError(t, err, name)
		assert.Less(t, f.RMS, 1e-4, name)
		assert.InDelta(t, c.bend, f.Bend, 1e-6, name)
		assert.Equal(t, c.columns*c.rows > 4, f.Checked, name)
		assert.Empty(t, f.Left, name)
		assert.False(t, f.Mirrored(c.bottom), name)
		assert.True(t, f.Mirrored(!c.bottom), name)
		for _, mm := range [][2]float64{{0, 0}, {120, 80}, {31.7, 66}, {60, 40}} {
			u, v := c.see(mm[0], mm[1])
			gu, gv := f.Photo(mm[0], mm[1])
			assert.InDelta(t, u, gu, 1e-6, name)
			assert.InDelta(t, v, gv, 1e-6, name)
			x, y, ok := f.Board(u, v)
			assert.True(t, ok, name)
			assert.InDelta(t, mm[0], x, 1e-3, name)
			assert.InDelta(t, mm[1], y, 1e-3, name)
		}
	}
}

// bound is the least covariance that any unbiased estimate of where a place lies on the
// photo can have (Cramér and Rao), in pixels squared, for marks with a normal error of one
// pixel: J_x (J^T J)^-1 J_x^T over the eight numbers of the camera's own homography, which
// is found from four of its exact points by a plain linear solve.
func bound(t *testing.T, c camera, points []Point, x, y float64) float64 {
	t.Helper()
	a, b := mat.NewDense(8, 8, nil), mat.NewVecDense(8, nil)
	for i, mm := range [][2]float64{{0, 0}, {120, 0}, {120, 80}, {0, 80}} {
		u, v := c.see(mm[0], mm[1])
		u, v = u*c.w, v*c.h
		a.SetRow(2*i, []float64{mm[0], mm[1], 1, 0, 0, 0, -u * mm[0], -u * mm[1]})
		a.SetRow(2*i+1, []float64{0, 0, 0, mm[0], mm[1], 1, -v * mm[0], -v * mm[1]})
		b.SetVec(2*i, u)
		b.SetVec(2*i+1, v)
	}
	var h mat.VecDense
	require.NoError(t, h.SolveVec(a, b))
	slopes := func(x, y float64) [2][]float64 {
		w := h.AtVec(6)*x + h.AtVec(7)*y + 1
		u := (h.AtVec(0)*x + h.AtVec(1)*y + h.AtVec(2)) / w
		v := (h.AtVec(3)*x + h.AtVec(4)*y + h.AtVec(5)) / w
		return [2][]float64{{x / w, y / w, 1 / w, 0, 0, 0, -u * x / w, -u * y / w}, {0, 0, 0, x / w, y / w, 1 / w, -v * x / w, -v * y / w}}
	}
	j := mat.NewDense(2*len(points), 8, nil)
	for i, p := range points {
		s := slopes(p.MM[0], p.MM[1])
		j.SetRow(2*i, s[0])
		j.SetRow(2*i+1, s[1])
	}
	var information, cov, half, out mat.Dense
	information.Mul(j.T(), j)
	require.NoError(t, cov.Inverse(&information))
	at := mat.NewDense(2, 8, nil)
	s := slopes(x, y)
	at.SetRow(0, s[0])
	at.SetRow(1, s[1])
	half.Mul(at, &cov)
	out.Mul(&half, at.T())
	return out.At(0, 0) + out.At(1, 1)
}

// TestAgainstTheBound: over 400 boards marked with an error of three pixels, the mean
// squared error at places that were not marked is what the Cramér-Rao bound allows, within
// what 400 trials can tell: a squared length of two coordinates has a relative error of
// one, so their mean has one of 1/20, and four of those are allowed.
func TestAgainstTheBound(t *testing.T) {
	r := rand.New(rand.NewPCG(1997, 9))
	const trials, noise = 400, 3.0
	for _, grid := range [][2]int{{2, 2}, {3, 2}, {4, 3}} {
		places := [][2]float64{{60, 40}, {20, 30}, {110, 10}}
		got := make([]float64, len(places))
		for range trials {
			f, err := New(marked(oblique, grid[0], grid[1], noise, r), int(oblique.w), int(oblique.h))
			require.NoError(t, err)
			for i, p := range places {
				u, v := oblique.see(p[0], p[1])
				gu, gv := f.Photo(p[0], p[1])
				got[i] += (math.Pow((gu-u)*oblique.w, 2) + math.Pow((gv-v)*oblique.h, 2)) / trials
			}
		}
		for i, p := range places {
			want := noise * noise * bound(t, oblique, marked(oblique, grid[0], grid[1], 0, nil), p[0], p[1])
			t.Logf("%d points, at %v: %.2f px rms, bound %.2f", grid[0]*grid[1], p, math.Sqrt(got[i]), math.Sqrt(want))
			assert.InEpsilon(t, want, got[i], 0.2, "%v at %v", grid, p)
		}
	}
}

// TestSlips: of twelve points marked within three pixels a slip of 5 mm is named and left
// out, whichever it is; two slips of 8 mm are too; honest marks are not blamed but rarely.
func TestSlips(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	blamed, trials := 0, 0
	for range 30 {
		points := marked(oblique, 4, 3, 3, r)
		f, err := New(points, 4000, 3000)
		require.NoError(t, err)
		trials++
		blamed += len(f.Left)
		at := r.IntN(len(points))
		u, v := oblique.see(points[at].MM[0]+3, points[at].MM[1]+4)
		points[at].Mark = [2]float64{u, v}
		f, err = New(points, 4000, 3000)
		require.NoError(t, err)
		assert.Equal(t, []int{at}, f.Left)
		assert.InDelta(t, 5, f.Off[at], 1.5, "how far off it is is told too")
		u, v = oblique.see(points[at].MM[0]+4.8, points[at].MM[1]+6.4)
		points[at].Mark = [2]float64{u, v}
		other := (at + 1 + r.IntN(len(points)-1)) % len(points)
		u, v = oblique.see(points[other].MM[0]-8, points[other].MM[1])
		points[other].Mark = [2]float64{u, v}
		f, err = New(points, 4000, 3000)
		require.NoError(t, err)
		assert.ElementsMatch(t, []int{at, other}, f.Left)
		assert.Less(t, f.RMS, 1.0)
	}
	assert.LessOrEqual(t, blamed, 1, "of %d honest boards", trials)
}

// TestFiveDisagree: five points cannot tell which of them is wrong; the residual shows it.
func TestFiveDisagree(t *testing.T) {
	points := append(marked(oblique, 2, 2, 0, nil), marked(oblique, 3, 3, 0, nil)[4])
	u, v := oblique.see(70, 40)
	points[4].Mark = [2]float64{u, v} // 10 mm off
	f, err := New(points, 4000, 3000)
	require.NoError(t, err)
	assert.Empty(t, f.Left)
	assert.True(t, f.Checked)
	assert.Greater(t, f.RMS, 0.5)
}

func TestRefused(t *testing.T) {
	good := marked(oblique, 2, 2, 0, nil)
	_, err := New(good[:3], 4000, 3000)
	assert.ErrorContains(t, err, "3 of 4 points are marked")
	_, err = New(good, 0, 3000)
	assert.ErrorContains(t, err, "0 × 3000 pixels")
	line := marked(oblique, 5, 2, 0, nil)
	row := []Point{line[0], line[2], line[4], line[6]}
	_, err = New(row, 4000, 3000)
	assert.ErrorContains(t, err, "P1, P3, P5 and P7 lie on one line")
	_, err = New(append(row[:3:3], line[1]), 4000, 3000)
	assert.ErrorContains(t, err, "P1, P3 and P5 lie on one line", "three of four")
	same := []Point{good[0], good[0], good[1], good[2]}
	_, err = New(same, 4000, 3000)
	assert.Error(t, err, "one point twice")
}

// TestBeyondTheHorizon: what lies behind the camera's horizon is no place of the board.
func TestBeyondTheHorizon(t *testing.T) {
	flat := camera{tilt: 1.35, far: 200, focal: 3000, w: 4000, h: 3000}
	f, err := New(marked(flat, 2, 2, 0, nil), 4000, 3000)
	require.NoError(t, err)
	seen := 0
	for v := 0.0; v <= 1; v += 0.02 {
		x, y, ok := f.Board(0.5, v)
		if !ok {
			continue
		}
		seen++
		gu, gv := f.Photo(x, y)
		assert.InDelta(t, 0.5, gu, 1e-6)
		assert.InDelta(t, v, gv, 1e-6)
	}
	assert.Less(t, seen, 50, "some of the photo is sky")
	assert.Positive(t, seen)
}

func BenchmarkNew(b *testing.B) {
	points := marked(oblique, 4, 3, 3, rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		_, err := New(points, 4000, 3000)
		require.NoError(b, err)
	}
}
