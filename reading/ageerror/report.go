package ageerror

import (
	"math"
	"slices"

	"earstone/programme/record"
)

// report finishes the chosen candidate, starts it again from elsewhere and writes the Fit.
func (k *choice) report(chosen *candidate) (Fit, error) {
	best := k.climb(chosen.models, chosen.beta, chosen.theta, fine, 0)
	values := []float64{reached(best)}
	for i := range k.Starts {
		beta, theta := k.elsewhere(best, i)
		c := k.climb(best.models, beta, theta, rough, 10)
		values = append(values, reached(c))
		need := 1e-3
		if best.standing == Sound && c.standing == AtBound {
			need = margin / 2
		}
		if (c.standing <= best.standing || c.standing == AtBound) && c.value > best.value+need {
			best = k.climb(c.models, c.beta, c.theta, fine, 0)
		}
	}
	if best.standing == NotReached || best.standing == NotTold {
		return Fit{}, &Trouble{Reason: NotConverged, Detail: best.standing.String()}
	}
	if math.IsInf(best.aicc, 1) {
		return Fit{}, &Trouble{Reason: TooFewFish}
	}
	f := k.write(best)
	f.Starts = values
	for _, v := range values {
		f.Differ = f.Differ || math.Abs(v-best.value) > 1e-2
	}
	return f, nil
}

// reached is the log-likelihood of a search that settled.
func reached(c *candidate) float64 {
	if c.standing == NotReached {
		return math.Inf(-1)
	}
	return c.value
}

// elsewhere is start i: σ of all sets smaller, larger, or of every other set each way, δ
// turned round, no bias, equal β.
func (k *choice) elsewhere(c *candidate, i int) ([]float64, [][]float64) {
	factor := []float64{0.6, 1.7}
	theta := make([][]float64, len(c.theta))
	for s, m := range c.models {
		theta[s] = slices.Clone(c.theta[s])
		which := (i + s*(i/2)) % 2
		for j := range theta[s] {
			switch {
			case j < m.logScale():
				theta[s][j] *= math.Pow(factor[which], 1+float64(i/3)/2)
			case j == 2 && m.SD == Curve:
				theta[s][j] *= -0.5
			default:
				theta[s][j] = 0
			}
		}
	}
	return k.even(), theta
}

// write is the Fit of the chosen candidate.
func (k *choice) write(c *candidate) Fit {
	climb := c.climb
	f := Fit{
		Set: k.set, First: k.data.First, Oldest: k.data.Oldest, LogLikelihood: c.value, Parameters: c.size,
		AICc: c.aicc, Fish: k.fish, Twice: k.twice(), Tried: k.tried, Steps: climb.steps, Notes: k.notes,
		from: climb.from, working: slices.Clone(climb.now.x[climb.ages:]),
		low: slices.Clone(climb.low[climb.ages:]), high: slices.Clone(climb.high[climb.ages:]),
	}
	for r, s := range k.set {
		f.Models = append(f.Models, c.models[s])
		f.Theta = append(f.Theta, slices.Clone(c.theta[s]))
		for i := range c.models[s].logScale() {
			if climb.held(climb.from[s] + i) {
				f.Notes = append(f.Notes, Note{Held, r})
				break
			}
		}
	}
	for s, m := range c.models {
		for i := range m.Parameters() {
			f.place = append(f.place, place{slices.Index(k.set, s), i})
		}
	}
	inverse, free := climb.information()
	f.writeErrors(climb, inverse, free)
	if k.core.unknown > 0 {
		f.Beta = c.beta
		f.BetaSE = betaErrors(climb, inverse, free)
	}
	return f
}

// writeErrors fills the covariance of the working parameters, its factor and the SEs.
func (f *Fit) writeErrors(k *climb, inverse []float64, free []int) {
	m, wide := len(free), k.wide
	f.covariance = make([]float64, wide*wide)
	skipped := 0 // free places that are β come first
	for skipped < m && free[skipped] < k.ages {
		skipped++
	}
	size := m - skipped
	block := make([]float64, size*size)
	for p := range size {
		for q := range size {
			v := inverse[(p+skipped)*m+q+skipped]
			block[p*size+q] = v
			f.covariance[(free[p+skipped]-k.ages)*wide+free[q+skipped]-k.ages] = v
		}
	}
	cholesky(block, size) // a block of a positive definite matrix is one
	f.factor = make([]float64, wide*wide)
	for p := range size {
		for q := range p + 1 {
			f.factor[(free[p+skipped]-k.ages)*wide+free[q+skipped]-k.ages] = block[p*size+q]
		}
	}
	for r, s := range f.Set {
		var errors []record.Number
		for i, t := range f.Theta[r] {
			at := f.from[s] + i
			se := math.Sqrt(f.covariance[at*wide+at])
			if i < f.Models[r].logScale() {
				se *= t
			}
			if se > 0 {
				errors = append(errors, record.Some(se))
			} else {
				errors = append(errors, record.Number{})
			}
		}
		f.SE = append(f.SE, errors)
	}
}

// betaErrors are SEs of β; that of the spare one follows from the sum.
func betaErrors(k *climb, inverse []float64, free []int) []record.Number {
	errors := make([]record.Number, k.ages)
	m, spare := len(free), 0.0
	for p, i := range free {
		if i >= k.ages {
			break
		}
		errors[i] = record.Some(math.Sqrt(inverse[p*m+p]))
		for q, j := range free {
			if j < k.ages {
				spare += inverse[p*m+q]
			}
		}
	}
	if spare > 0 {
		errors[k.spare] = record.Some(math.Sqrt(spare))
	}
	return errors
}
