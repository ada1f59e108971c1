package allocation

import (
	"errors"
	"math"

	"earstone/estimate/run"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// Item is a kind of thing to ask for.
type Item string

// The items. A trip comes with its measured lengths, a stone with its section and as many
// readings as the stones of the season that was run had; a second reading is one more.
const (
	Trip    Item = "trip"
	Stone   Item = "stone"
	Reading Item = "second_reading"
)

// Options of a plan.
type Options struct {
	Costs  map[Item]float64 // an item, in minutes or money; nil: DefaultCosts
	Budget float64          // 0: what today's sampling costs
	Trips  float64          // at most so many times today's trips in a stratum; 0: 2
}

// DefaultCosts are minutes, common practice and no source: a trip to the dock with its
// lengths, a stone out of the head to its first reading, each further look through the
// microscope.
func DefaultCosts() map[Item]float64 { return map[Item]float64{Trip: 240, Stone: 40, Reading: 5} }

// Season is the plan of the season after the one that was run.
type Season struct {
	*Problem
	*Plan
	Species *run.Species
	Costs   map[Item]float64
	Ages    []int   // of the targets
	Places  []Place // by cell
	Today   Forecast
	Next    Forecast

	Readings    float64 // that a stone comes with, as in the season that was run
	once, twice float64 // stones read once, and more often
}

// Place is where a cell is.
type Place struct {
	Item    Item
	Stratum int // of Counts.Cells, of a trip; −1
	Key     int // of Counts.KeyCells, of a stone; −1
	Bin     int // of a stone; −1
}

// Forecast is what is predicted of the targets.
type Forecast struct {
	CV   []float64 // by target
	Cost float64
}

// Why there is no plan.
var (
	ErrNoInfluence = errors.New("the run did not look for what each trip and each stone does")
	ErrNoTargets   = errors.New("no age that the programme's targets name was caught in the last year")
)

// leastTrips a stratum with a catch: two tell how far trips differ.
const leastTrips = 2

// ownTrips is how many trips a stratum must have for its own spread to count as much as
// that of all strata together.
const ownTrips = 10

// For plans the next season of a species from a run with Options.Influence. Targets of
// other quantities than catch_at_age are not looked at; without any, each age that holds a
// fiftieth of the catch is wanted at a CV of 0.15.
//
// The variance of a target is taken for
//
//	V = R n₂/(n₂ + more) + Σ_h U_h/m_h + Σ_c K F_c² q_c(1 − q_c)/(n_c + 1) + fixed:
//
// R the variance that comes of the readers' parameters, n₂ the stones read more than once
// and more those beyond; U_h that of
// the trips of stratum h, less what their stones have of it; F_c the fish of the catch in
// key cell c, whose n_c stones are of the target's age with probability q_c, K such that
// stones have the variance that leaving them out in turn says; fixed that of conversions,
// of catches, and of the stones of other years. U_h is that of the stratum's own trips and
// that of all strata, ρ N_h² p_h(1 − p_h), which counts as ten trips do.
func For(s *run.Species, targets []record.Target, o Options) (*Season, error) {
	if s.Influence == nil {
		return nil, ErrNoInfluence
	}
	season := &Season{Species: s, Costs: o.Costs, Problem: &Problem{}}
	if season.Costs == nil {
		season.Costs = DefaultCosts()
	}
	season.aim(targets)
	if len(season.Ages) == 0 {
		return nil, ErrNoTargets
	}
	season.read()
	season.fix()
	stones := season.stoneVariance()
	if o.Trips == 0 {
		o.Trips = 2
	}
	season.trips(stones.byTrip, o.Trips)
	season.stones(stones.inYear)
	season.readings()
	today := season.Problem.Today()
	season.Today = season.Forecast(today)
	if season.Budget = o.Budget; o.Budget == 0 {
		season.Budget = season.Today.Cost
	}
	for range settle { // fewer trips bring fewer fish to take stones from
		plan, err := season.Allocate()
		if err != nil {
			return nil, err
		}
		season.Plan = plan
		season.obtainable(plan.N)
	}
	for i := range season.Cells {
		season.Plan.N[i] = min(season.Plan.N[i], season.Cells[i].Most)
	}
	season.Plan.Cost, season.Plan.Variance = season.Problem.Cost(season.Plan.N), season.Predict(season.Plan.N)
	season.Next = season.Forecast(season.Plan.N)
	return season, nil
}

// settle is how often trips and stones are dealt anew, each time with the stones that the
// trips of the time before would bring.
const settle = 4

// Forecast is what n items in each cell would reach.
func (s *Season) Forecast(n []int) Forecast {
	f := Forecast{Cost: s.Problem.Cost(n)}
	for j, v := range s.Predict(n) {
		f.CV = append(f.CV, math.Sqrt(v)/s.Targets[j].Value)
	}
	return f
}

// aim lists the ages that are to be known well.
func (s *Season) aim(targets []record.Target) {
	number := s.Species.Influence.Number
	add := func(age int, want float64) {
		if age < len(number) && number[age] > 0 && want > 0 {
			s.Ages = append(s.Ages, age)
			s.Targets = append(s.Targets, Target{number[age], want})
		}
	}
	for _, t := range targets {
		if t.Quantity != "catch_at_age" {
			continue
		}
		for age := max(t.Ages[0], 0); age <= t.Ages[1]; age++ {
			add(age, t.WantCV)
		}
	}
	if len(targets) > 0 {
		return
	}
	total := 0.0
	for _, n := range number {
		total += n
	}
	for age, n := range number {
		if n >= total/50 {
			add(age, 0.15)
		}
	}
}

// fix sets what no item lowers: conversions and catches.
func (s *Season) fix() {
	s.Fixed = make([]float64, len(s.Ages))
	for _, one := range s.Species.Influence.Alone {
		if one.Source == stream.Reader {
			continue
		}
		for j, age := range s.Ages {
			s.Fixed[j] += one.Variance[age]
		}
	}
}

// readings make one cell of second readings beyond those that stones come with.
func (s *Season) readings() {
	unit := make([]float64, len(s.Ages))
	for _, one := range s.Species.Influence.Alone {
		if one.Source != stream.Reader {
			continue
		}
		for j, age := range s.Ages {
			if unit[j] = one.Variance[age] * s.twice; s.twice == 0 { // learnt from other fish
				s.Fixed[j] += one.Variance[age]
			}
		}
	}
	s.Places = append(s.Places, Place{Reading, -1, -1, -1})
	s.Cells = append(s.Cells, Cell{Unit: unit, Offset: math.Max(s.twice, 1), Most: int(s.once + 0.5), Cost: s.Costs[Reading]})
}

// read counts how often stones were read: those that come next are taken for read as often.
func (s *Season) read() {
	sample, stones, readings := s.Species.Counts.Key, 0.0, 0.0
	for _, e := range sample.Entries {
		if e.Pattern < 0 {
			continue
		}
		read := 0
		for _, class := range sample.Patterns[e.Pattern] {
			if class >= 0 {
				read++
			}
		}
		stones += e.Fish
		readings += float64(read) * e.Fish
		if read > 1 {
			s.twice += e.Fish
		} else {
			s.once += e.Fish
		}
	}
	if s.Readings = 1; stones > 0 {
		s.Readings = readings / stones
	}
}

// stoneCost is that of a stone with its readings.
func (s *Season) stoneCost() float64 { return s.Costs[Stone] + (s.Readings-1)*s.Costs[Reading] }
