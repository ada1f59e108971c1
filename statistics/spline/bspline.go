package spline

// local4 fills b with the four cubic B-splines, or their first or second
// derivatives, that live at x within the boundary, and returns the number of the
// first of them. At an interior knot the piece above it is taken, at the upper
// boundary the last piece.
//
// The recursion of de Boor (1978), chapter X, from constants up: derivatives
// are taken in the last steps instead of values.
func local4(b *[4]float64, knots []float64, x float64, derivative int) int {
	piece := 3
	for piece+5 < len(knots) && x >= knots[piece+1] {
		piece++
	}
	*b = [4]float64{0, 0, 0, 1}
	for degree := 1; degree <= 3; degree++ {
		raise(b, knots, piece, degree, x, degree > 3-derivative)
	}
	return piece - 3
}

// raise takes the splines of one degree less, kept at the end of b, to a degree;
// slope takes their derivative on the way.
func raise(b *[4]float64, knots []float64, piece, degree int, x float64, slope bool) {
	was := *b
	for j := 3 - degree; j <= 3; j++ {
		i := piece - 3 + j // number of this spline
		b[j] = 0
		if j > 3-degree { // the lower one that starts at the same knot
			width := knots[i+degree] - knots[i]
			if slope {
				b[j] += float64(float64(degree) / width * was[j])
			} else {
				b[j] += float64((x - knots[i]) / width * was[j])
			}
		}
		if j < 3 { // the lower one that starts a knot later
			width := knots[i+degree+1] - knots[i+1]
			if slope {
				b[j] -= float64(float64(degree) / width * was[j+1])
			} else {
				b[j] += float64((knots[i+degree+1] - x) / width * was[j+1])
			}
		}
	}
}
