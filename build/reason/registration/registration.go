// Package registration lays a photo of a board onto the board's coordinates: from places
// that somebody marked on the photo and whose millimetres are known, it finds where every
// other place of the board lies on the photo, and the other way round.
//
// A flat board seen by a lens is a projective transform of itself (a homography, eight
// free numbers), bent by the lens along the radius (one more, where there are points
// enough to tell). [New] starts from the normalised direct linear transform (Hartley
// 1997, "In defense of the eight-point algorithm"; Hartley & Zisserman, Multiple View
// Geometry, algorithm 4.2) and refines it by Levenberg-Marquardt on the distances in the
// photo, which is where the marking was inexact.
//
// Four points always fit; only a fifth can tell whether they are right, and only a sixth
// which of them is not.
package registration

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// Point is a place whose millimetres on the board and share of the photo are known.
type Point struct {
	Name string     // as it was marked: a designator, a pin or a corner
	MM   [2]float64 // on the board
	Mark [2]float64 // share of the photo's width and height, from the top left
}

// Fit is where a board lies on a photo. It is read-only.
type Fit struct {
	// Matrix takes millimetres to pixels before the lens bends them, row by row.
	Matrix [9]float64
	// Bend is by how much the lens moves what lies half a diagonal from the middle, as a
	// share of that; 0 where there were too few points to tell.
	Bend float64
	// Size of the photo, pixels.
	Size [2]float64
	// Off is how far from its place each point came out, mm, in the order given; for one
	// that was left out too.
	Off []float64
	// RMS is the root mean square of Off over the points that were used, mm.
	RMS float64
	// Left are the points that do not go with the others and were not used.
	Left []int
	// Checked says that there were more points than any marking would fit.
	Checked bool

	back [9]float64
}

const (
	fewest  = 4 // points that fix a homography
	naming  = 6 // from which one that is wrong can be told from the others
	bending = 7 // from which the lens is asked about

	// A mark is taken to be off by marking, as a share of the photo's diagonal, until the
	// points say otherwise; that counts as much as so many of their own coordinates.
	// Common practice, no source.
	marking       = 0.002
	markingCounts = 4
	// The lens is believed where it takes so many times more of the squares away than a
	// number that says nothing would: the F distribution of one and five degrees of freedom
	// has 47 at one in a thousand, and less with more points.
	told = 47
	// A point is left out where honest marks would be so far off less often than this.
	slip = 1e-3
)

// New finds where the board lies on a photo of so many pixels. The error says what is
// missing, or which points cannot be used.
func New(points []Point, width, height int) (*Fit, error) {
	if len(points) < fewest {
		return nil, fmt.Errorf("%d of %d points are marked; mark places far from one another, such as parts near the corners", len(points), fewest)
	}
	if width <= 0 || height <= 0 {
		return nil, fmt.Errorf("a photo of %d × %d pixels shows nothing", width, height)
	}
	size := [2]float64{float64(width), float64(height)}
	used := make([]int, len(points))
	for i := range used {
		used[i] = i
	}
	var left []int
	for len(used) >= naming {
		wrong := misfits(points, used, size)
		if len(wrong) == 0 {
			break
		}
		left = append(left, wrong...)
		used = without(used, wrong...)
	}
	f, err := fit(points, used, size)
	if err != nil {
		return nil, err
	}
	slices.Sort(left)
	f.Left, f.Checked = left, len(used) > fewest
	f.measure(points)
	sum := 0.0
	for _, i := range used {
		sum += f.Off[i] * f.Off[i]
	}
	f.RMS = math.Sqrt(sum / float64(len(used)))
	return f, nil
}

// measure takes down how far from its place each point comes out on the board.
func (f *Fit) measure(points []Point) {
	f.Off = make([]float64, len(points))
	for i, p := range points {
		x, y, ok := f.Board(p.Mark[0], p.Mark[1])
		f.Off[i] = math.Inf(1)
		if ok {
			f.Off[i] = math.Hypot(x-p.MM[0], y-p.MM[1])
		}
	}
}

// misfits returns the point that goes with the others so little that it must be a slip, or
// two of them, since two can hide each other; none where all go together.
func misfits(points []Point, used []int, size [2]float64) []int {
	worst, least := -1, slip/float64(len(used)) // so that all of them together are rarely blamed
	for _, i := range used {
		if p := honest(points, without(used, i), i, size); p < least {
			worst, least = i, p
		}
	}
	if worst >= 0 {
		return []int{worst}
	}
	all, err := solve(points, used, size, false)
	if err != nil || len(used) <= naming || all.sum() < float64(2*len(used)-8)*math.Pow(2*marking*math.Hypot(size[0], size[1]), 2) {
		return nil
	}
	var pair []int
	least = slip / float64(len(used))
	for k, i := range used {
		for _, j := range used[:k] {
			others := without(used, i, j)
			if p := max(honest(points, others, i, size), honest(points, others, j, size)); p < least {
				pair, least = []int{i, j}, p
			}
		}
	}
	return pair
}

func without(used []int, which ...int) []int {
	return slices.DeleteFunc(slices.Clone(used), func(i int) bool { return slices.Contains(which, i) })
}

// honest is how often an honest mark of point i would be as far from where the others
// expect it. It is judged by a fit of the others, since a slip bends the fit that it takes
// part in towards itself: how far it lies off, over how sure they are (an externally
// studentized residual), has the F distribution with two degrees of freedom over theirs.
func honest(points []Point, others []int, i int, size [2]float64) float64 {
	s, err := solve(points, others, size, false)
	if err != nil {
		return 1 // without it the rest fixes nothing: it cannot be missed
	}
	variance, d := s.variance()
	u, v := s.at(points[i].MM, nil)
	du, dv := points[i].Mark[0]*size[0]-u, points[i].Mark[1]*size[1]-v
	c := s.spread(points[i].MM)
	c[0], c[3] = c[0]+1, c[3]+1
	f := (du*du*c[3] - du*dv*(c[1]+c[2]) + dv*dv*c[0]) / (c[0]*c[3] - c[1]*c[2]) / variance / 2
	return math.Pow(1+2*f/d, -d/2)
}

// fit finds the homography of some of the points, and the bend of the lens where there
// are enough of them.
func fit(points []Point, used []int, size [2]float64) (*Fit, error) {
	s, err := solve(points, used, size, false)
	if err != nil {
		return nil, err
	}
	if len(used) >= bending {
		lens, err := solve(points, used, size, true)
		if err == nil && s.sum()-lens.sum() > told*lens.sum()/float64(2*len(used)-lens.free()) {
			s = lens
		}
	}
	back, ok := inverse(s.h)
	if !ok {
		return nil, fmt.Errorf("%s do not fix the board", names(points, used, nil))
	}
	return &Fit{Matrix: unit(s.h), Bend: s.bend, Size: size, back: back}, nil
}

func solve(points []Point, used []int, size [2]float64, lens bool) (*solution, error) {
	board, photo := make([][2]float64, len(used)), make([][2]float64, len(used))
	for k, i := range used {
		board[k] = points[i].MM
		photo[k] = [2]float64{points[i].Mark[0] * size[0], points[i].Mark[1] * size[1]}
	}
	if line := inLine(board); line != nil {
		return nil, fmt.Errorf("%s lie on one line; mark places that do not", names(points, used, line))
	}
	tb, tp := normal(board), normal(photo)
	h, err := linear(apply(tb, board), apply(tp, photo))
	if err != nil {
		return nil, err
	}
	s := &solution{board: board, photo: photo, size: size, tb: tb, tp: tp, h: denormal(h, tb, tp), lens: lens}
	return s, s.refine()
}

func names(points []Point, used, which []int) string {
	var list []string
	for k, i := range used {
		if which == nil || slices.Contains(which, k) {
			list = append(list, points[i].Name)
		}
	}
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// inLine returns the points of which all but one lie on one line, which fix no
// homography; nil where no line holds so many.
func inLine(pts [][2]float64) []int {
	low, high := pts[0], pts[0]
	for _, p := range pts {
		low = [2]float64{min(low[0], p[0]), min(low[1], p[1])}
		high = [2]float64{max(high[0], p[0]), max(high[1], p[1])}
	}
	span := math.Hypot(high[0]-low[0], high[1]-low[1])
	for i := range pts {
		for j := range i {
			d := math.Hypot(pts[i][0]-pts[j][0], pts[i][1]-pts[j][1])
			var on []int
			for k, p := range pts {
				away := 0.0
				if d > 0 {
					away = math.Abs((pts[i][0]-pts[j][0])*(p[1]-pts[j][1])-(pts[i][1]-pts[j][1])*(p[0]-pts[j][0])) / d
				} else {
					away = math.Hypot(p[0]-pts[j][0], p[1]-pts[j][1])
				}
				if away <= 0.01*span {
					on = append(on, k)
				}
			}
			if len(on) >= len(pts)-1 {
				return on
			}
		}
	}
	return nil
}

// normal returns the shift and scale that bring points to the middle with a mean
// distance of √2 from it (Hartley 1997).
func normal(pts [][2]float64) [3]float64 {
	var cx, cy, d float64
	for _, p := range pts {
		cx, cy = cx+p[0]/float64(len(pts)), cy+p[1]/float64(len(pts))
	}
	for _, p := range pts {
		d += math.Hypot(p[0]-cx, p[1]-cy) / float64(len(pts))
	}
	return [3]float64{cx, cy, math.Sqrt2 / d}
}

func apply(t [3]float64, pts [][2]float64) [][2]float64 {
	out := make([][2]float64, len(pts))
	for i, p := range pts {
		out[i] = [2]float64{(p[0] - t[0]) * t[2], (p[1] - t[1]) * t[2]}
	}
	return out
}

// linear is the direct linear transform: the singular vector of the least singular value
// of two equations for each point.
func linear(from, to [][2]float64) ([9]float64, error) {
	a := mat.NewDense(max(9, 2*len(from)), 9, nil) // square at least, so that all vectors are given
	for i := range from {
		x, y, u, v := from[i][0], from[i][1], to[i][0], to[i][1]
		a.SetRow(2*i, []float64{0, 0, 0, -x, -y, -1, v * x, v * y, v})
		a.SetRow(2*i+1, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y, -u})
	}
	var svd mat.SVD
	var h [9]float64
	if !svd.Factorize(a, mat.SVDThin) {
		return h, errors.New("the points fix no place of the board")
	}
	var v mat.Dense
	svd.VTo(&v)
	for i := range h {
		h[i] = v.At(i, 8)
	}
	return h, nil
}

// denormal turns a homography of normalised points into one of millimetres and pixels;
// renormal does the reverse. Both give one of length one.
func denormal(h [9]float64, tb, tp [3]float64) [9]float64 {
	return unit(times(away(tp), times(h, towards(tb))))
}

func renormal(h [9]float64, tb, tp [3]float64) [9]float64 {
	return unit(times(towards(tp), times(h, away(tb))))
}

func towards(t [3]float64) [9]float64 {
	return [9]float64{t[2], 0, -t[0] * t[2], 0, t[2], -t[1] * t[2], 0, 0, 1}
}

func away(t [3]float64) [9]float64 {
	return [9]float64{1 / t[2], 0, t[0], 0, 1 / t[2], t[1], 0, 0, 1}
}

func times(a, b [9]float64) (c [9]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return c
}

func unit(h [9]float64) [9]float64 {
	sum := 0.0
	for _, v := range h {
		sum += v * v
	}
	for i := range h {
		h[i] /= math.Sqrt(sum)
	}
	return h
}

func inverse(m [9]float64) (out [9]float64, ok bool) {
	c := [9]float64{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
	det := m[0]*c[0] + m[1]*c[3] + m[2]*c[6]
	if det == 0 || math.IsNaN(det) {
		return out, false
	}
	for i := range c {
		out[i] = c[i] / det
	}
	return out, true
}

func project(m [9]float64, x, y float64) (u, v float64) {
	w := m[6]*x + m[7]*y + m[8]
	return (m[0]*x + m[1]*y + m[2]) / w, (m[3]*x + m[4]*y + m[5]) / w
}

// bent moves a pixel along its radius from the middle of the photo.
func bent(u, v, bend float64, size [2]float64) (float64, float64) {
	cx, cy := size[0]/2, size[1]/2
	half := math.Hypot(cx, cy)
	dx, dy := (u-cx)/half, (v-cy)/half
	k := 1 + bend*(dx*dx+dy*dy)
	return cx + dx*half*k, cy + dy*half*k
}

// solution is a homography on its way to the least sum of squared distances in the photo,
// in pixels. Steps are taken in the matrix of normalised points, whose entries are of
// like size; the greatest of them stays as it is, since its scale is free.
type solution struct {
	board, photo [][2]float64
	size         [2]float64
	tb, tp       [3]float64
	h            [9]float64
	bend         float64
	lens         bool
	cov          *mat.Dense // of the free numbers, for marks that are off by one pixel
}

// free is how many numbers are looked for.
func (s *solution) free() int {
	if s.lens {
		return 9
	}
	return 8
}

// step gives the homography and bend that lie so far from the present ones.
func (s *solution) step(d []float64) ([9]float64, float64) {
	if d == nil {
		return s.h, s.bend
	}
	n := renormal(s.h, s.tb, s.tp)
	fixed := 0
	for i := range n {
		if math.Abs(n[i]) > math.Abs(n[fixed]) {
			fixed = i
		}
	}
	k := 0
	for i := range n {
		if i != fixed {
			n[i] += d[k]
			k++
		}
	}
	bend := s.bend
	if s.lens {
		bend += d[k]
	}
	return denormal(n, s.tb, s.tp), bend
}

// at gives where a place of the board lies on the photo, in pixels, a step away.
func (s *solution) at(mm [2]float64, d []float64) (u, v float64) {
	h, bend := s.step(d)
	u, v = project(h, mm[0], mm[1])
	return bent(u, v, bend, s.size)
}

func (s *solution) residuals(d []float64) []float64 {
	h, bend := s.step(d)
	out := make([]float64, 0, 2*len(s.board))
	for i, b := range s.board {
		u, v := project(h, b[0], b[1])
		u, v = bent(u, v, bend, s.size)
		out = append(out, u-s.photo[i][0], v-s.photo[i][1])
	}
	return out
}

func (s *solution) sum() float64 { return squares(s.residuals(nil)) }

// variance is that of a mark's coordinates in square pixels, with what is expected before
// anything was marked, and on how many coordinates it stands.
func (s *solution) variance() (v, counts float64) {
	prior := marking * math.Hypot(s.size[0], s.size[1])
	counts = markingCounts + float64(2*len(s.board)-s.free())
	return (markingCounts*prior*prior + s.sum()) / counts, counts
}

func squares(r []float64) (sum float64) {
	for _, v := range r {
		sum += v * v
	}
	return sum
}

// slopes are the derivatives of some coordinates by the free numbers.
func (s *solution) slopes(rows int, of func(d []float64) []float64) *mat.Dense {
	const delta = 1e-6
	j := mat.NewDense(rows, s.free(), nil)
	for k := range s.free() {
		d := make([]float64, s.free())
		d[k] = delta
		more := of(d)
		d[k] = -delta
		less := of(d)
		for i := range rows {
			j.Set(i, k, (more[i]-less[i])/(2*delta))
		}
	}
	return j
}

// steps is how many the refinement takes at most; it needs three to six.
const steps = 50

// refine walks to the least sum of squares (Levenberg-Marquardt).
func (s *solution) refine() error {
	damp := 1e-3
	for range steps {
		r := s.residuals(nil)
		j := s.slopes(len(r), s.residuals)
		var normal mat.Dense
		normal.Mul(j.T(), j)
		var right, d mat.VecDense
		right.MulVec(j.T(), mat.NewVecDense(len(r), r))
		better := false
		for ; damp < 1e12; damp *= 10 {
			var damped mat.Dense
			damped.CloneFrom(&normal)
			for k := range s.free() {
				damped.Set(k, k, normal.At(k, k)*(1+damp))
			}
			if d.SolveVec(&damped, &right) != nil {
				continue
			}
			d.ScaleVec(-1, &d)
			if got := squares(s.residuals(d.RawVector().Data)); got < squares(r) {
				better = squares(r)-got > 1e-12*squares(r)
				s.h, s.bend = s.step(d.RawVector().Data)
				damp = max(1e-12, damp/10)
				break
			}
		}
		if !better {
			break
		}
	}
	j := s.slopes(2*len(s.board), s.residuals)
	var normal, cov mat.Dense
	normal.Mul(j.T(), j)
	if err := cov.Inverse(&normal); err != nil && math.IsInf(mat.Cond(&normal, 1), 0) {
		return errors.New("the points fix no place of the board")
	}
	s.cov = &cov
	return nil
}

// spread is how unsure the place of a point on the photo is, as a covariance by rows in
// square pixels, for marks that are off by one pixel.
func (s *solution) spread(mm [2]float64) [4]float64 {
	j := s.slopes(2, func(d []float64) []float64 {
		u, v := s.at(mm, d)
		return []float64{u, v}
	})
	var half, c mat.Dense
	half.Mul(j, s.cov)
	c.Mul(&half, j.T())
	return [4]float64{c.At(0, 0), c.At(0, 1), c.At(1, 0), c.At(1, 1)}
}

// Photo gives where a place of the board, in millimetres, lies on the photo, as shares of
// its width and height.
func (f *Fit) Photo(x, y float64) (u, v float64) {
	u, v = project(f.Matrix, x, y)
	u, v = bent(u, v, f.Bend, f.Size)
	return u / f.Size[0], v / f.Size[1]
}

// Board gives the millimetres on the board of a place of the photo; ok is false beyond
// the horizon, where the board's plane does not reach.
func (f *Fit) Board(u, v float64) (x, y float64, ok bool) {
	px, py := straight(u*f.Size[0], v*f.Size[1], f.Bend, f.Size)
	x, y = project(f.back, px, py)
	// What lies beyond the horizon has the other sign than the middle of the photo.
	w := f.back[6]*px + f.back[7]*py + f.back[8]
	middle := f.back[6]*f.Size[0]/2 + f.back[7]*f.Size[1]/2 + f.back[8]
	return x, y, w*middle > 0 && !math.IsInf(x, 0) && !math.IsInf(y, 0)
}

// straight undoes the bend of the lens by a few turns of Newton's method on the radius.
func straight(u, v, bend float64, size [2]float64) (float64, float64) {
	if bend == 0 {
		return u, v
	}
	cx, cy := size[0]/2, size[1]/2
	half := math.Hypot(cx, cy)
	far := math.Hypot(u-cx, v-cy) / half
	if far == 0 {
		return u, v
	}
	r := far
	for range 20 {
		slope := 1 + 3*bend*r*r
		if slope == 0 {
			break
		}
		next := r - (r*(1+bend*r*r)-far)/slope
		if math.Abs(next-r) < 1e-14 {
			r = next
			break
		}
		r = next
	}
	return cx + (u-cx)*r/far, cy + (v-cy)*r/far
}

// Mirrored reports whether the photo shows the board as in a mirror: left and right
// changed places, as when the points were taken from the other side.
func (f *Fit) Mirrored(bottom bool) bool {
	m := f.Matrix
	det := m[0]*(m[4]*m[8]-m[5]*m[7]) - m[1]*(m[3]*m[8]-m[5]*m[6]) + m[2]*(m[3]*m[7]-m[4]*m[6])
	// The sign of a homography's scale is free; that at the middle of the points fixes it.
	x, y, _ := f.Board(0.5, 0.5)
	w := m[6]*x + m[7]*y + m[8]
	// Millimetres count upwards and pixels downwards, so a straight look at the top turns
	// one axis, and one at the bottom both.
	both := det*w > 0
	return both != bottom
}
