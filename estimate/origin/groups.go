package origin

import (
	"math"
	"slices"
)

// Pooling says over what a composition is broken down, and how far its parts lean on
// each other.
type Pooling struct {
	Groups      int // Mixed.Group runs from 0 to Groups − 1
	First, Last int // ages that get a share; fish of other ages are left out, counted
	// Shift moves the ages of a group along the walk, one value of 0 or more a group: age a
	// of group g stands at step a − First + Shift[g]. With the years from the group's to
	// the last, fish of one year class share a step in whatever year they are caught. nil:
	// an age is an age in every group.
	Shift   []int
	WalkSD  float64 // SD of a log ratio's step from one age to the next; 0: estimated
	GroupSD float64 // SD of a log ratio between groups; 0: estimated
}

// Groups are compositions by group and age.
type Groups struct {
	Pooling
	Share     []float64 // groups × ages × nurseries; the nurseries of a cell sum to 1
	SE        []float64 // the same shape: densities taken for known, pooling allowed for
	Fish      []int     // groups × ages: raw number of fish, 0 where the share rests on neighbours alone
	Effective float64   // (Σw)²/Σw² of the fish taken in
	Left      int       // fish of the composition with no age in the range: left out

	Iterations int
	Converged  bool

	fit   *Fit
	state pool // at its maximum
}

// Ages is the number of ages.
func (p Pooling) Ages() int { return p.Last - p.First + 1 }

// Of is the shares of one group at one age.
func (g *Groups) Of(share []float64, group, age int) []float64 {
	K := g.state.K
	at := (group*g.Ages() + age - g.First) * K
	return share[at : at+K]
}

// Groups breaks the composition down by group and age, no cell on its own and none by
// the average of others: π_gak ∝ exp(v_ak + u_gk), with v_k a random walk over ages (or
// year classes, see Pooling.Shift), v_ak − v_a−1,k ~ N(0, τ_v²), and u_gk ~ N(0, τ_u²) for what a group differs. Every
// nursery has its terms, none is the reference, so that their order does not matter. It
// maximises Σ_i w_i ln Σ_k π_k f_k(x_i) less the penalties, with weights scaled to sum to
// the effective sample, by Newton steps with the observed information.
//
// The two SDs come from the data, τ² = E Σ(step)²/(steps − 1), the expectation by
// Laplace's approximation: the −1 is a prior that keeps τ off 0, where single ages would
// all have one answer and a narrow one (Chung et al. 2013). With fewer than three steps
// or differences times (nurseries − 1) they are 0.5 and 0.5. No term is common to one
// group and one age alone: with a handful of fish a cell it could not be told.
//
// An age without fish has a share too, by the walk; Fish is 0 there. The error is a
// *Trouble: NothingMixed or NoAges. Panics when a group lies outside Groups, Last is
// before First or Shift is not one of 0 or more for each group.
//
// Methods, section 8, "partial pooling".
func (f *Fit) Groups(p Pooling) (*Groups, error) {
	if p.Groups < 1 || p.Last < p.First || p.First < 0 {
		panic("origin: no groups, or no ages")
	}
	if p.Shift != nil && (len(p.Shift) != p.Groups || slices.Min(p.Shift) < 0) {
		panic("origin: Pooling wants a Shift of 0 or more for each group")
	}
	if f.Composition.Fish == 0 {
		return nil, &Trouble{Reason: NothingMixed}
	}
	g := &Groups{Pooling: p, Fish: make([]int, p.Groups*p.Ages()), fit: f}
	s := newPool(f.data.nurseries, p)
	sum, squares := 0.0, 0.0
	for i := range f.Fish {
		w := f.problem.Mixed[i].Weight
		if w <= 0 || f.data.seen(i) == 0 || f.outside(i) && !f.settings.KeepOutside {
			continue
		}
		cell := g.cell(i)
		if cell < 0 {
			g.Left++
			continue
		}
		g.Fish[cell]++
		s.add(int32(cell), w, f.Fish[i].LogDensity)
		sum, squares = sum+w, squares+float64(w*w)
	}
	if sum == 0 {
		return nil, &Trouble{Reason: NoAges}
	}
	g.Effective = sum * sum / squares
	for i := range s.weight {
		s.weight[i] *= sum / squares
	}
	g.estimate(s)
	return g, nil
}

// cell is where mixed fish i counts, −1 where its age is not in the range.
func (g *Groups) cell(i int) int {
	m := g.fit.problem.Mixed[i]
	if m.Group >= g.Pooling.Groups {
		panic("origin: a fish of a group that Pooling lacks")
	}
	if m.Age < g.First || m.Age > g.Last {
		return -1
	}
	return m.Group*g.Ages() + m.Age - g.First
}

// estimate goes to and fro between the shares and the two SDs.
func (g *Groups) estimate(s *pool) {
	walk, between := g.WalkSD, g.GroupSD
	if walk == 0 {
		walk = 0.5
	}
	if between == 0 {
		between = 0.5
	}
	tellsWalk := g.WalkSD == 0 && (s.K-1)*(s.spots-1) >= 3
	tellsGroup := g.GroupSD == 0 && (s.K-1)*(s.groups-1) >= 3
	for g.Iterations < 200 {
		s.walk, s.between = 1/(walk*walk), 1/(between*between)
		g.Converged = s.climb(1e-9, 100)
		s.invert()
		g.Iterations++
		nextWalk, nextBetween := walk, between
		if tellsWalk {
			nextWalk = clamp(math.Sqrt(s.steps() / float64(s.K*(s.spots-1)-1)))
		}
		if tellsGroup {
			nextBetween = clamp(math.Sqrt(s.differences() / float64(s.K*s.groups-1)))
		}
		change := math.Max(math.Abs(math.Log(nextWalk/walk)), math.Abs(math.Log(nextBetween/between)))
		walk, between = nextWalk, nextBetween
		if change < 1e-3 {
			break
		}
	}
	g.WalkSD, g.GroupSD = walk, between
	g.Converged = g.Converged && g.Iterations < 200
	g.Share, g.SE = make([]float64, len(s.share)), make([]float64, len(s.share))
	copy(g.Share, s.share)
	s.spread(g.SE)
	g.state = *s
}

// clamp keeps an SD of log ratios between 0.02, as good as none, and 5, where a step
// goes from nearly nothing to nearly all.
func clamp(sd float64) float64 { return math.Min(math.Max(sd, 0.02), 5) }

// steps is E Σ (v_ak − v_a−1,k)² given the data.
func (s *pool) steps() (sum float64) {
	n := s.size
	for at := s.K; at < s.spots*s.K; at++ {
		before := at - s.K
		step := s.theta[at] - s.theta[before]
		sum += float64(step*step) + s.inverse[at*n+at] + s.inverse[before*n+before] - 2*s.inverse[at*n+before]
	}
	return sum
}

// differences is E Σ u_gk² given the data.
func (s *pool) differences() (sum float64) {
	for at := s.spots * s.K; at < s.size; at++ {
		sum += float64(s.theta[at]*s.theta[at]) + s.inverse[at*s.size+at]
	}
	return sum
}

// spread fills se: the SE of shares by the delta method, ∂π_j/∂η_k = π_j(δ_jk − π_k).
func (s *pool) spread(se []float64) {
	K, n := s.K, s.size
	for cell := range s.groups * s.ages {
		at := [2]int{s.spot[cell] * K, s.effect(cell)}
		terms := at[:1]
		if at[1] >= 0 {
			terms = at[:2]
		}
		p := s.share[cell*K : (cell+1)*K]
		for j := range K {
			v := 0.0
			for k := range K {
				for l := range K {
					covariance := 0.0
					for _, a := range terms {
						for _, b := range terms {
							covariance += s.inverse[(a+k)*n+b+l]
						}
					}
					v += p[j] * (delta(j, k) - p[k]) * p[j] * (delta(j, l) - p[l]) * covariance
				}
			}
			se[cell*K+j] = math.Sqrt(math.Max(v, 0))
		}
	}
}

func delta(j, k int) float64 {
	if j == k {
		return 1
	}
	return 0
}
