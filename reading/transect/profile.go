package transect

import (
	"fmt"
	"math"
	"slices"
)

// Lean is how rings cross the axis: aside pixels from it a ring lies Tilt · aside −
// Bow · aside² further out than on it.
type Lean struct {
	Tilt float64 // pixels a pixel
	Bow  float64 // a pixel; above 0 the rings bow towards the edge
}

// Work holds the room for profiles of one band after another.
type Work struct {
	column  []float64
	profile []float64
}

// Profile fills dst with the brightness along the axis, averaged across the band
// with its rings brought into line: the mean of the values at i·Step + lean, without
// the lowest and the highest fifth, which are dust, scratches and cracks.
//
// dst has the length b.Along. Rows first to last−1 take part; 0 and b.Across are all.
// Panics on another length or no row; allocates only to grow the room of w.
func (w *Work) Profile(dst []float64, b *Band, lean Lean, first, last int) {
	if len(dst) != b.Along || first < 0 || last > b.Across || first >= last {
		panic(fmt.Sprintf("transect: rows %d to %d of %d into %d values of %d", first, last, b.Across, len(dst), b.Along))
	}
	rows := last - first
	w.column = slices.Grow(w.column[:0], rows)[:rows]
	trim := rows / 5
	for i := range dst {
		for j := range rows {
			w.column[j] = b.leant(first+j, i, lean)
		}
		slices.Sort(w.column)
		sum := 0.0
		for _, v := range w.column[trim : rows-trim] {
			sum += v
		}
		dst[i] = sum / float64(rows-2*trim)
	}
}

// leant is the light of row j where the ring that crosses the axis at value i is.
func (b *Band) leant(j, i int, lean Lean) float64 {
	aside := float64(j-b.Across/2) * b.Apart
	return b.between(j, float64(i)+float64((float64(lean.Tilt*aside)-float64(float64(lean.Bow*aside)*aside))/b.Step))
}

// between is the light of row j at a place between values.
func (b *Band) between(j int, place float64) float64 {
	place = min(max(place, 0), float64(b.Along-1))
	i := min(int(place), max(b.Along-2, 0))
	share := place - float64(i)
	row := b.Light[j*b.Along : (j+1)*b.Along]
	if i+1 >= len(row) {
		return row[i]
	}
	return float64(row[i]*(1-share)) + float64(row[i+1]*share)
}

// The leans that are tried: tilts to either side, and bows by how far the ring falls
// back at the border of the band.
const (
	steepest  = 0.3
	deepest   = 0.4 // of the half-width
	tiltSteps = 3   // to each side, and then finer about the best
	bowSteps  = 4
	rounds    = 2 // each halves the steps
)

// Lean is the lean under which the profile shows its rings the clearest: the one,
// of tilts to ±0.3 and of bows that fall back by up to 0.4 of the half-width, with the
// most energy Σ_i (Σ_{k<r} p[i+k] − Σ_{k<r} p[i−1−k])² in the mean across the band, r =
// reach values. It is searched for in coarse steps, and about the best in finer ones.
//
// The last 3·reach values are left out, since the edge itself outshines any ring. A
// band of one row, or shorter than 8·reach, has no lean. Panics when reach < 1;
// allocates only to grow the room of w.
//
// There is no published source: it is the usual trick of straightening before
// averaging.
func (w *Work) Lean(b *Band, reach int) Lean {
	if reach < 1 {
		panic("transect: a lean by a reach under 1")
	}
	if b.Across < 3 || b.Along < 8*reach {
		return Lean{}
	}
	tiltStep, bowStep := steepest/tiltSteps, deepest/bowSteps/(float64(b.Across/2)*b.Apart)
	best, most := Lean{}, math.Inf(-1)
	try := func(lean Lean) {
		if energy := w.energy(b, lean, reach); lean.Bow >= 0 && energy > most {
			best, most = lean, energy
		}
	}
	for k := range bowSteps + 1 {
		for t := -tiltSteps; t <= tiltSteps; t++ {
			try(Lean{tiltStep * float64(t), bowStep * float64(k)})
		}
	}
	for range rounds {
		tiltStep, bowStep = tiltStep/2, bowStep/2
		about := best
		for k := -1; k <= 1; k++ {
			for t := -1; t <= 1; t++ {
				try(Lean{about.Tilt + tiltStep*float64(t), about.Bow + bowStep*float64(k)})
			}
		}
	}
	return best
}

// energy is that of every other row, which is enough to tell leans apart.
func (w *Work) energy(b *Band, lean Lean, reach int) float64 {
	w.profile = slices.Grow(w.profile[:0], b.Along)[:b.Along]
	clear(w.profile)
	for j := b.Across / 2 % 2; j < b.Across; j += 2 {
		aside := float64(j-b.Across/2) * b.Apart
		shift := (float64(lean.Tilt*aside) - float64(float64(lean.Bow*aside)*aside)) / b.Step
		b.add(w.profile, j, shift)
	}
	sum, d := 0.0, 0.0
	for i := reach; i+4*reach < b.Along; i++ { // d is Σ over the next reach values less that over the last
		if i == reach {
			for k := range reach {
				d += w.profile[i+k] - w.profile[i-1-k]
			}
		} else {
			d += w.profile[i+reach-1] - float64(2*w.profile[i-1]) + w.profile[i-1-reach]
		}
		sum += float64(d * d)
	}
	return sum
}

// add adds row j, shifted by so many values, to dst.
func (b *Band) add(dst []float64, j int, shift float64) {
	row := b.Light[j*b.Along : (j+1)*b.Along]
	whole := int(math.Floor(shift))
	share := shift - float64(whole)
	for i := range dst {
		k := i + whole
		low, high := row[min(max(k, 0), len(row)-1)], row[min(max(k+1, 0), len(row)-1)]
		dst[i] += low + float64(share*(high-low))
	}
}
