package ageerror

import (
	"fmt"
	"math"
	"slices"
)

// Settings of Estimate; the zero value is the default.
type Settings struct {
	Reference  int     // the reader taken as unbiased, counted from 1; 0: the one with most readings
	Models     []Model // by reader: fit these forms and choose none (Low and High are set from the data); nil: choose
	LeastTwice float64 // fish read again that a reader needs for parameters of one's own; 0: 20
	LeastKnown float64 // fish of known age from which no reader has to be taken as unbiased; 0: 20
	Starts     int     // starts of the chosen form besides the one the choice led to; 0: 3
}

func (s Settings) filled() Settings {
	if s.LeastTwice == 0 {
		s.LeastTwice = 20
	}
	if s.LeastKnown == 0 {
		s.LeastKnown = 20
	}
	if s.Starts == 0 {
		s.Starts = 3
	}
	return s
}

// Gains in log-likelihood under which a search ends: while forms are compared, and for
// the one that is reported.
const (
	rough = 1e-3
	fine  = 1e-16
)

// candidate is one choice of forms at its optimum.
type candidate struct {
	models   []Model // by set
	climb    *climb
	beta     []float64
	theta    [][]float64 // by set, natural
	value    float64
	size     int
	aicc     float64
	standing Standing
}

// choice is the search among forms.
type choice struct {
	Settings
	data  Data
	core  core
	set   []int // of each reader
	sets  int
	loose []bool // by set: its bias is free to be estimated
	fish  float64
	done  []*candidate
	tried []Tried
	notes []Note
}

// Estimate fits the ageing error of every reader by maximum likelihood,
//
//	L_i = Σ_a β_a Π_j P_r(j)(c_ij | a),   P_r(c | a) a normal cut into whole ages (Matrix),
//
// over β on the simplex and the readers' parameters, Σ_i log L_i over distinct patterns;
// a fish of known age gives Π_j P(c_ij | a) without β. Readings of one stone count as
// independent given its age.
//
// The forms of σ and bias are chosen by AICc with n = fish, k = ages − 1 + the readers'
// parameters: first one form for all, then, reader by reader, each other form of σ and of
// bias while AICc falls. One reader is taken as unbiased unless enough fish are of known
// age. Forms whose parameters the data do not tell apart are tried, listed and not chosen;
// one with a parameter at its bound only where it wins by 2. Newton steps on exact second derivatives; the chosen form
// is started again from elsewhere. SEs are from the observed information at the optimum.
//
// A reader with hardly any second readings shares parameters (Note Pooled). Where apart a
// σ runs to its least, the readers are fitted together, and stay apart only where AICc is
// better by 2 (Note Shared or Held). A β_a that ends at 0 has no SE.
//
// The error is a *Trouble with its Reason: no second readings, all alike, too few fish,
// all σ at their bound, not settled, or a value that can't be.
//
// Richards, Schnute, Kronlund & Beamish (1992), Can. J. Fish. Aquat. Sci. 49; Punt, Smith,
// KrusicGolub & Robertson (2008), same journal 65; information: Louis (1982), J. R. Stat.
// Soc. B 44. Methods, section 4.
func Estimate(data Data, settings Settings) (Fit, error) {
	if err := data.check(); err != nil {
		return Fit{}, err
	}
	k := newChoice(data, settings.filled())
	if err := k.possible(); err != nil {
		return Fit{}, err
	}
	best, err := k.best()
	if err != nil {
		return Fit{}, err
	}
	return k.report(best)
}

func newChoice(data Data, settings Settings) *choice {
	k := &choice{Settings: settings, data: data}
	k.core = core{ages: data.Ages, counts: data.Oldest + 1, patterns: data.distinct()}
	for i := range k.core.patterns {
		p := &k.core.patterns[i]
		k.fish += p.N
		if p.Known >= 0 {
			p.Known -= data.First
		} else {
			k.core.unknown += p.N
		}
	}
	return k
}

// possible says why there is nothing to fit.
func (k *choice) possible() error {
	again, alike := 0.0, true
	for _, p := range k.core.patterns {
		known := p
		if p.Known >= 0 {
			known.Known += k.data.First
		}
		if known.Known >= 0 || p.readings() > 1 {
			again += p.N
			alike = alike && known.alike()
		}
	}
	switch {
	case again == 0:
		return &Trouble{Reason: NoSecondReading}
	case alike:
		return &Trouble{Reason: AllAgree, Detail: fmt.Sprintf("%v fish, all alike", again)}
	}
	if k.Models != nil && len(k.Models) != k.data.Readers {
		return &Trouble{Reason: OutOfRange, Detail: fmt.Sprintf("forms for %d readers, and there are %d", len(k.Models), k.data.Readers)}
	}
	if k.Reference < 0 || k.Reference > k.data.Readers {
		return &Trouble{Reason: OutOfRange, Detail: fmt.Sprintf("reader %d of %d taken as unbiased", k.Reference, k.data.Readers)}
	}
	return nil
}

// best is the candidate to report.
func (k *choice) best() (*candidate, error) {
	if k.Models != nil {
		k.apart()
		best := k.first(k.withAges(k.Models))
		if best.standing == NotTold || best.standing == NotReached {
			return nil, &Trouble{Reason: NotConverged, Detail: best.standing.String()}
		}
		return best, nil
	}
	k.assign()
	best := k.together(k.first(k.plain()))
	if best.standing == NotReached || best.standing == NotTold {
		return nil, &Trouble{Reason: NotConverged, Detail: best.standing.String()}
	}
	if math.IsInf(best.aicc, 1) {
		return nil, &Trouble{Reason: TooFewFish, Detail: fmt.Sprintf("%v fish, %d parameters", k.fish, best.size)}
	}
	if best.heldSets() == k.sets {
		return nil, &Trouble{Reason: ParametersAtBound}
	}
	return k.sweep(best), nil
}

func (k *choice) plain() []Model {
	models := make([]Model, k.sets)
	for s := range models {
		models[s] = Model{SD: ConstantCV, Bias: NoBias}
	}
	return k.withAges(models)
}

func (k *choice) withAges(models []Model) []Model {
	models = slices.Clone(models)
	for s := range models {
		models[s].Low, models[s].High = k.data.First, k.data.First+k.data.Ages-1
	}
	return models
}

// margin is by how much AICc must favour a form with a parameter at its bound over one
// without, all whose SEs are known.
const margin = 2

// together fits all readers with one parameter set where apart a σ ran to its least: of
// two readers one may seem faultless by chance alone. Apart must win by the margin.
func (k *choice) together(apart *candidate) *candidate {
	if apart.standing == Sound || k.sets < 2 {
		return apart
	}
	set, sets, column := k.set, k.sets, k.core.set
	k.set, k.sets = make([]int, len(set)), 1
	k.columns()
	joint := k.first(k.plain())
	if joint.standing == Sound && (joint.aicc < apart.aicc+margin || apart.standing != AtBound) {
		for r := range set {
			k.notes = append(k.notes, Note{Shared, r})
		}
		k.notes = slices.DeleteFunc(k.notes, func(n Note) bool { return n.Remark == Unbiased })
		k.loosen()
		k.done = []*candidate{joint} // those fitted apart have other sets
		return joint
	}
	k.set, k.sets, k.core.set = set, sets, column
	k.done = []*candidate{apart}
	return apart
}

// sweep changes forms while AICc falls: bias of all readers that may have one, σ of all,
// then reader by reader. Where a form with a parameter at its bound wins by less than the
// margin, the best without takes its place.
func (k *choice) sweep(best *candidate) *candidate {
	best = k.better(best, func(s int, m *Model) {
		if k.loose[s] {
			m.Bias = Proportional
		}
	})
	best = k.better(best, func(s int, m *Model) { m.SD = Line })
	best = k.better(best, func(s int, m *Model) { m.SD = Curve })
	for {
		before := best
		for s := range k.sets {
			best = k.around(best, s)
		}
		if best == before {
			break
		}
	}
	for _, c := range k.done {
		if best.standing != Sound && c.standing == Sound && c.aicc < best.aicc+margin {
			best = c
		}
	}
	return best
}

// around tries the other forms of one set.
func (k *choice) around(best *candidate, set int) *candidate {
	for _, form := range []SDForm{ConstantCV, Line, Curve} {
		best = k.better(best, func(s int, m *Model) {
			if s == set {
				m.SD = form
			}
		})
	}
	if !k.loose[set] {
		return best
	}
	for _, form := range []BiasForm{NoBias, Proportional, CurveBias} {
		best = k.better(best, func(s int, m *Model) {
			if s == set {
				m.Bias = form
			}
		})
	}
	return best
}

// better fits the forms that change makes, unless they were fitted before, and gives
// whichever has the lower AICc.
func (k *choice) better(best *candidate, change func(set int, m *Model)) *candidate {
	models := slices.Clone(best.models)
	for s := range models {
		change(s, &models[s])
	}
	other := k.found(models)
	if other == nil {
		other = k.fit(models, best.beta, carried(best, models), rough, 0)
	}
	if (other.standing == Sound || other.standing == AtBound) && other.aicc < best.aicc-1e-2 {
		return other
	}
	return best
}

func (k *choice) found(models []Model) *candidate {
	for _, c := range k.done {
		if slices.Equal(c.models, models) {
			return c
		}
	}
	return nil
}

// fit climbs from a start and enters the candidate in the list.
func (k *choice) fit(models []Model, beta []float64, theta [][]float64, gain float64, approach int) *candidate {
	c := k.climb(models, beta, theta, gain, approach)
	k.done = append(k.done, c)
	byReader := make([]Model, len(k.set))
	for r, s := range k.set {
		byReader[r] = models[s]
	}
	k.tried = append(k.tried, Tried{byReader, c.value, c.size, c.aicc, c.standing})
	return c
}

func (k *choice) climb(models []Model, beta []float64, theta [][]float64, gain float64, approach int) *candidate {
	climb := newClimb(newForm(k.core, k.data.First, models))
	climb.begin(beta, theta)
	if gain >= rough {
		climb.least = slight
	}
	if k.core.unknown > 0 {
		climb.approach(approach)
	}
	climb.run(gain)
	return k.judge(models, climb)
}

// judge takes stock of a search that has ended.
func (k *choice) judge(models []Model, climb *climb) *candidate {
	c := &candidate{models: models, climb: climb, value: climb.now.value, size: climb.wide}
	c.beta = slices.Clone(climb.now.x[:climb.ages])
	for s := range models {
		c.theta = append(c.theta, slices.Clone(climb.natural(climb.now.x, s)))
	}
	if k.core.unknown > 0 {
		c.size += k.core.ages - 1
	}
	c.aicc = math.Inf(1)
	if room := k.fish - float64(c.size) - 1; room > 0 {
		c.aicc = -2*c.value + 2*float64(c.size)*k.fish/room
	}
	c.standing = Sound
	switch {
	case !climb.settled:
		c.standing = NotReached
	case !climb.told():
		c.standing = NotTold
	case climb.heldCount() > 0:
		c.standing = AtBound
	}
	return c
}

// heldSets counts the sets with a σ parameter at its bound.
func (c *candidate) heldSets() int {
	n := 0
	for s, m := range c.models {
		for i := range m.logScale() {
			if c.climb.held(c.climb.from[s] + i) {
				n++
				break
			}
		}
	}
	return n
}
