package origin

import (
	"fmt"
	"math"
)

// Form is the shape of the class densities. S is the covariance within nursery (and year
// class, where these are used), with divisor fish less means.
type Form uint8

// The forms. The zero Form asks for the one with the best held-out log score.
const (
	Best   Form = iota
	Pooled      // normal, one S for all nurseries
	Own         // normal, each nursery its own S_k
	Kernel      // a normal of covariance h²S_k around each fish, h = (4/((d+2)n))^{1/(d+4)}
)

var forms = [...]string{"best", "pooled", "own", "kernel"}

// String is the word by which a table names the form.
func (f Form) String() string {
	if int(f) < len(forms) {
		return forms[f]
	}
	return fmt.Sprintf("form %d", uint8(f))
}

// Forms are the forms that can be had, without Best.
func Forms() []Form { return []Form{Pooled, Own, Kernel} }

// classes are class densities and the buffers to fit them again. Each nursery has axes
// z = A⁻¹x in which the scatter of fish is 1 and that of year classes is diagonal, so
// that every cell is a product of one-dimensional normals.
type classes struct {
	*table
	form      Form
	nurseries int

	n       []float64 // fish by cell
	mean    []float64 // cells × d: of the fish, in x
	scatter []float64 // nurseries × d × d: squares around the means of cells
	free    []float64 // degrees of freedom by nursery in this sample ...
	nu      []float64 // ... and of the covariance that a nursery uses
	within  []float64 // nurseries × d × d: S_k
	pooled  []float64 // d × d: S of all nurseries together
	between []float64 // d × d: T, covariance of year-class means
	yearsDF float64   // year classes less nurseries: what T rests on

	a, inverse []float64 // nurseries × d × d: A and A⁻¹
	logSize    []float64 // ln |A|
	ratio      []float64 // nurseries × d: T along the axes
	middle     []float64 // nurseries × d: the nursery's mean, in z
	centre     []float64 // cells × d: where a cell's fish are expected, in z
	spread     []float64 // cells × d: variance around it as the density has it
	tail       []float64 // cells × d: the same with all that is unknown of the centre
	logSpread  []float64 // cells: Σ ln spread

	residual []float64 // fish × d in z: the kernel's points
	weight   []float64 // of each fish
	h2       []float64 // nurseries

	factor, square, column, point, vector []float64 // scratch
	has                                   []int
}

func newClasses(t *table, form Form) *classes {
	d, K, cells, n := t.d, t.nurseries, t.cells(), len(t.row)
	c := &classes{table: t, form: form, nurseries: K, has: make([]int, 0, d)}
	for _, b := range []struct {
		to   *[]float64
		size int
	}{
		{&c.n, cells}, {&c.mean, cells * d}, {&c.scatter, K * d * d}, {&c.free, K}, {&c.nu, K},
		{&c.within, K * d * d}, {&c.pooled, d * d}, {&c.between, d * d}, {&c.a, K * d * d}, {&c.inverse, K * d * d},
		{&c.logSize, K}, {&c.ratio, K * d}, {&c.middle, K * d}, {&c.centre, cells * d}, {&c.spread, cells * d},
		{&c.tail, cells * d}, {&c.logSpread, cells}, {&c.residual, n * d}, {&c.weight, n}, {&c.h2, K},
		{&c.factor, d * d}, {&c.square, d * d}, {&c.column, d}, {&c.point, d}, {&c.vector, d},
	} {
		*b.to = make([]float64, b.size)
	}
	for i := range c.weight {
		c.weight[i] = 1
	}
	return c
}

// fit works out all of it from the weights of the fish. redrawn says that these are a
// redraw of each cell with n ≥ 2 fish, n − 1 picks of weight n/(n−1); see Composer. It
// returns 0, or the reason why there is no density, with nursery and tracer (−1: none).
func (c *classes) fit(redrawn bool) (reason Reason, nursery, tracer int) {
	c.moments(redrawn)
	if reason, nursery, tracer = c.covariances(); reason != 0 {
		return reason, nursery, tracer
	}
	if c.yearsUsed {
		c.spreadOfYears(redrawn)
	}
	for k := range c.nurseries {
		if j := c.axes(k); j >= 0 {
			return c.singular(c.within[k*c.d*c.d:(k+1)*c.d*c.d], j), k, j
		}
		c.centres(k)
	}
	if c.form == Kernel {
		c.points()
	}
	return 0, -1, -1
}

// moments are the numbers, means and squares of cells.
func (c *classes) moments(redrawn bool) {
	d := c.d
	clear(c.n)
	clear(c.mean)
	clear(c.scatter)
	clear(c.free)
	for b, w := range c.weight {
		cell := int(c.cell[b])
		c.n[cell] += w
		for j, v := range c.x[b*d : (b+1)*d] {
			c.mean[cell*d+j] += float64(w * v)
		}
	}
	for cell, n := range c.n {
		if n > 0 {
			for j := cell * d; j < (cell+1)*d; j++ {
				c.mean[j] /= n
			}
			c.free[cell/(c.years+1)] += freedom(n, redrawn)
		}
	}
	for b, w := range c.weight {
		cell := int(c.cell[b])
		k := cell / (c.years + 1)
		mean, x := c.mean[cell*d:(cell+1)*d], c.x[b*d:(b+1)*d]
		for i := range d {
			e := w * (x[i] - mean[i])
			row := c.scatter[(k*d+i)*d : (k*d+i)*d+i+1]
			for j := range row {
				row[j] += float64(e * (x[j] - mean[j]))
			}
		}
	}
	for k := range c.nurseries {
		mirror(c.scatter[k*d*d:(k+1)*d*d], d)
	}
}

// freedom is what divides the squares of a cell so that they are unbiased: n − 1, and
// n − 2 in a redraw by n − 1 picks, whose own mean takes one more.
func freedom(n float64, redrawn bool) float64 {
	if redrawn {
		return math.Max(math.Round(n)-2, 0)
	}
	return n - 1
}

// mirror copies the lower half of a square to its upper half.
func mirror(m []float64, d int) {
	for i := range d {
		for j := range i {
			m[j*d+i] = m[i*d+j]
		}
	}
}

// covariances are those within nurseries.
func (c *classes) covariances() (reason Reason, nursery, tracer int) {
	d := c.d
	size := d * d
	clear(c.pooled)
	free := 0.0
	for k := range c.nurseries {
		free += c.free[k]
		for j := range size {
			c.pooled[j] += c.scatter[k*size+j]
		}
	}
	if free < float64(d) {
		return TooFewFish, -1, -1
	}
	for j := range size {
		c.pooled[j] /= free
	}
	if j := cholesky(c.factor, c.pooled, d); j >= 0 {
		return c.singular(c.pooled, j), -1, j
	}
	for k := range c.nurseries {
		within := c.within[k*size : (k+1)*size]
		if c.form == Pooled {
			copy(within, c.pooled)
			c.nu[k] = free
			continue
		}
		if c.nu[k] = c.free[k]; c.free[k] < float64(d) {
			return TooFewFish, k, -1
		}
		for j := range within {
			within[j] = c.scatter[k*size+j] / c.free[k]
		}
	}
	return 0, -1, -1
}

// singular says what is wrong with a covariance whose tracer j adds nothing.
func (c *classes) singular(s []float64, j int) Reason {
	if scale := math.Abs(c.table.origin[j]); !(s[j*c.d+j] > 1e-24*scale*scale) {
		return Constant
	}
	return Collinear
}

// spreadOfYears is the covariance T of year-class means around their nursery's mean, one
// for all nurseries, by moments: with B_k = Σ_y n_ky (x̄_ky − x̄_k)(x̄_ky − x̄_k)ᵀ,
// E ΣB_k = Σ_k (Y_k − 1) S + Σ_k (n_k − Σ_y n_ky²/n_k) T. Directions in which it would be
// negative are nothing. A redraw moves each mean once more, and that is taken off too.
func (c *classes) spreadOfYears(redrawn bool) {
	d := c.d
	clear(c.square)
	off, on := 0.0, 0.0
	c.yearsDF = 0
	for k := range c.nurseries {
		first := k * (c.years + 1)
		n := c.n[first : first+c.years]
		total := 0.0
		clear(c.column)
		for y, fish := range n {
			total += fish
			for j := range d {
				c.column[j] += float64(fish * c.mean[(first+y)*d+j])
			}
		}
		df := -1.0
		for y, fish := range n {
			if fish == 0 {
				continue
			}
			df++
			on += fish - float64(fish*fish)/total
			off += 1 - fish/total
			if redrawn && fish > 1.5 {
				off += 1 - fish/total
			}
			for i := range d {
				e := c.mean[(first+y)*d+i] - c.column[i]/total
				for j := range d {
					c.square[i*d+j] += float64(float64(fish*e) * (c.mean[(first+y)*d+j] - c.column[j]/total))
				}
			}
		}
		c.yearsDF += df
	}
	if on <= 0 {
		clear(c.between)
		return
	}
	for j := range c.square {
		c.square[j] = (c.square[j] - float64(off*c.pooled[j])) / on
	}
	c.positive()
}

// positive turns square into between without its negative directions, seen in axes in
// which S is 1: another unit of a tracer then leaves the same directions out. The factor
// of the pooled S stands in factor.
func (c *classes) positive() {
	d := c.d
	m, q := c.between, c.square
	sandwich(m, c.factor, c.square, c.column)
	eigen(m, q, d)
	for e := range d { // columns of L Q √λ
		for i := range d {
			c.column[i] = q[i*d+e]
		}
		root := math.Sqrt(math.Max(m[e*d+e], 0))
		for i := d - 1; i >= 0; i-- {
			sum := 0.0
			for j := range i + 1 {
				sum += float64(c.factor[i*d+j] * c.column[j])
			}
			c.column[i] = float64(sum * root)
		}
		for i := range d {
			q[i*d+e] = c.column[i]
		}
	}
	for i := range d {
		for j := range d {
			sum := 0.0
			for e := range d {
				sum += float64(q[i*d+e] * q[j*d+e])
			}
			m[i*d+j] = sum
		}
	}
}

// axes finds A of nursery k, S = A Aᵀ and T = A diag(ratio) Aᵀ; −1, or the tracer that
// follows from the others.
func (c *classes) axes(k int) int {
	d := c.d
	l, a, inverse := c.factor, c.a[k*d*d:(k+1)*d*d], c.inverse[k*d*d:(k+1)*d*d]
	if j := cholesky(l, c.within[k*d*d:(k+1)*d*d], d); j >= 0 {
		return j
	}
	c.logSize[k] = 0
	for j := range d {
		c.logSize[k] += math.Log(l[j*d+j])
	}
	q := c.square
	if c.yearsUsed {
		m := a // as scratch
		sandwich(m, l, c.between, c.column)
		eigen(m, q, d)
		for j := range d {
			c.ratio[k*d+j] = math.Max(m[j*d+j], 0)
		}
	} else {
		clear(q)
		for j := range d {
			q[j*d+j] = 1
		}
	}
	for e := range d {
		for i := range d {
			sum := 0.0
			for j := range i + 1 {
				sum += float64(l[i*d+j] * q[j*d+e])
			}
			a[i*d+e] = sum
		}
	}
	for e := range d { // row e of A⁻¹ is L⁻ᵀ times column e of Q
		row := inverse[e*d : (e+1)*d]
		for i := range d {
			row[i] = q[i*d+e]
		}
		backward(l, row)
	}
	return -1
}

// centres places the cells of nursery k. Along each axis, with t the spread of year
// classes and fish of variance 1: the nursery's mean weighs year class y by 1/(t + 1/n_y)
// and has variance v = 1/Σ of these; a year class keeps B = n t/(1 + n t) of its own
// distance from it, and what stays unknown of its centre is t/(1 + n t) + (1 − B)² v.
func (c *classes) centres(k int) {
	d := c.d
	first := k * (c.years + 1)
	inverse := c.inverse[k*d*d : (k+1)*d*d]
	for y := range c.years + 1 { // means of cells, in z
		lift(c.centre[(first+y)*d:(first+y+1)*d], inverse, c.mean[(first+y)*d:(first+y+1)*d])
	}
	for j := range d {
		t, sum, weight := c.ratio[k*d+j], 0.0, 0.0
		for y := range c.years {
			if n := c.n[first+y]; n > 0 {
				w := 1 / (t + 1/n)
				weight += w
				sum += float64(w * c.centre[(first+y)*d+j])
			}
		}
		middle, v := sum/weight, 1/weight
		c.middle[k*d+j] = middle
		for y := range c.years + 1 {
			at, n := (first+y)*d+j, c.n[first+y]
			own := n * t / (1 + float64(n*t))
			if n == 0 {
				c.centre[at] = 0
			}
			c.centre[at] = float64(own*c.centre[at]) + float64((1-own)*middle)
			c.tail[at] = 1 + t/(1+float64(n*t)) + float64(float64((1-own)*(1-own))*v)
			c.spread[at] = 1
			if c.yearsUsed {
				c.spread[at] = c.tail[at]
			}
		}
	}
	for y := range c.years + 1 {
		c.logSpread[first+y] = 0
		for j := range d {
			c.logSpread[first+y] += math.Log(c.spread[(first+y)*d+j])
		}
	}
}

// points are the kernel's: each fish less the mean of its cell, in z.
func (c *classes) points() {
	d := c.d
	for k := range c.nurseries {
		n := 0.0
		for b := c.start[k]; b < c.start[k+1]; b++ {
			n += c.weight[b]
			mean := c.mean[int(c.cell[b])*d:]
			for j := range d {
				c.point[j] = c.x[b*d+j] - mean[j]
			}
			lift(c.residual[b*d:(b+1)*d], c.inverse[k*d*d:(k+1)*d*d], c.point)
		}
		c.h2[k] = math.Pow(4/(float64(d+2)*n), 2/float64(d+4))
	}
}
