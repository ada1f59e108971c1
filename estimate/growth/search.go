package growth

import (
	"math"

	"earstone/statistics/optimise"
)

// search is a minimisation in units of standard errors about a centre,
// x = centre + unit · u: parameters of a growth curve trade off so closely that in
// their own units a good optimum looks like a valley.
type search struct {
	centre, unit []float64
	objective    optimise.Objective // of u
	settings     optimise.Settings  // of u
	fit          optimise.Fit       // of u
}

// newSearch is a search about a centre within bounds of x.
func newSearch(f optimise.Objective, centre, unit, low, high []float64) *search {
	n := len(centre)
	s := &search{centre: centre, unit: unit}
	x := make([]float64, n)
	s.objective = func(u, grad []float64) float64 {
		s.toX(x, u)
		value := f(x, grad)
		for i := range grad {
			grad[i] *= unit[i]
		}
		return value
	}
	s.settings = optimise.Settings{Low: make([]float64, n), High: make([]float64, n), Scale: make([]float64, n)}
	for i := range n {
		s.settings.Low[i], s.settings.High[i], s.settings.Scale[i] = (low[i]-centre[i])/unit[i], (high[i]-centre[i])/unit[i], 1
	}
	return s
}

func (s *search) toX(x, u []float64) {
	for i := range u {
		x[i] = s.centre[i] + float64(s.unit[i]*u[i])
	}
}

// run minimises from several starts in x; fit is the end in x.
func (s *search) run(starts [][]float64) (optimise.Fit, error) {
	us := make([][]float64, len(starts))
	for i, x := range starts {
		us[i] = make([]float64, len(s.centre))
		for j := range us[i] {
			us[i][j] = (x[j] - s.centre[j]) / s.unit[j]
		}
	}
	var err error
	s.fit, err = optimise.Starts(s.objective, us, s.settings)
	fit := s.fit
	fit.X = make([]float64, len(s.centre))
	s.toX(fit.X, s.fit.X)
	return fit, err
}

// units are the standard errors by an information matrix, or, where it has no
// inverse, the sizes of a change that matters.
func units(info []float64, scale []float64) []float64 {
	n := len(scale)
	size := int(math.Sqrt(float64(len(info))))
	covariance, err := optimise.Covariance(info)
	if err != nil {
		return scale
	}
	out := make([]float64, n)
	for i := range n {
		out[i] = scale[i]
		if se := math.Sqrt(covariance[i*size+i]); se > 0 && se < scale[i] { // rounding can leave a variance below 0
			out[i] = se
		}
	}
	return out
}
