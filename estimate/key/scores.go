package key

import (
	"math"
	"slices"
)

// Form is a kind of key of agreed ages.
type Form int

// The forms that are scored. The zero value is none of them.
const (
	Unborrowed Form = iota + 1 // the stratum's own cells, however few their fish
	Borrowed                   // the direct key along the ladder
	Smoothed
)

var forms = [...]string{Unborrowed: "direct", Borrowed: "borrowed", Smoothed: "smoothed"}

func (f Form) String() string {
	if f < 1 || int(f) >= len(forms) {
		return "unknown"
	}
	return forms[f]
}

// Scoring is how forms are compared.
type Scoring struct {
	Folds     int         // 0 means 5
	Fold      []int32     // fold of each trip, by trip number; nil: the trip's number modulo Folds
	Borrowing Borrowing   // of the direct keys
	Smoothing []Smoothing // to be tried; nil: df 1 to 4, each with λ_s 0.5, 2 and 10
	Floor     float64     // least share that a held-out fish scores; 0 means 0.001
}

func (s Scoring) filled() Scoring {
	if s.Folds == 0 {
		s.Folds = 5
	}
	if s.Floor == 0 {
		s.Floor = 0.001
	}
	if s.Smoothing == nil {
		for df := 1; df < mostColumns; df++ {
			for _, lambda := range []float64{0.5, 2, 10} {
				s.Smoothing = append(s.Smoothing, Smoothing{DF: df, Strata: lambda})
			}
		}
	}
	if s.Folds < 2 || s.Floor < 0 || s.Floor >= 1 {
		panic("key: scoring wants two folds or more and a floor below 1")
	}
	return s
}

// Score is how well one form foretold the ages of fish that it had not seen.
type Score struct {
	Form      Form
	Smoothing Smoothing // of a smoothed form
	LogScore  float64   // mean over fish of log q(age | length, stratum), natural logarithm
	Behind    float64   // how far below the best form's
	BehindSE  float64   // of that difference: fish of a trip count together
	Floored   float64   // fish whose age had less than the floor, or that found no key
	Settled   bool      // every fit came to its end
}

// Scored is forms side by side on the same held-out fish.
type Scored struct {
	Scores []Score
	Best   int // index of the highest log score
	Fish   float64
	Trips  int
	Folds  int
	Floor  float64
}

// Scores compares forms of key by K-fold log score: the ages of each fold's trips are
// foretold by a key from all other trips, log q(a | l, s), mean over fish.
//
// A fold is a set of whole trips, since fish of a trip are alike; fish of no trip are
// dealt out one entry at a time. An age that a key gives less than the floor, 0 above
// all, scores log floor in every form: one unseen age would else decide alone. Fish are
// scored in the key stratum of their own group; those without one help to fit but are
// not scored. BehindSE is √(m/(m−1) Σ_t (d_t − D n_t)²)/Σ n_t, d_t a trip's sum of
// differences and D their mean per fish. Knots stay those of all fish. Keys of true
// ages speak of another age, and have no score beside these.
//
// The error is a *Trouble: NoAges, or FewTrips when some fold has no fish to score.
//
// Methods, section 5, "Smoothed". Source: Stone (1974) for cross-validation (citation
// from memory); golden topic 05 for the smoothed scores.
func Scores(s Sample, set Scoring) (Scored, error) {
	set = set.filled()
	c := newContest(s, set)
	if c.fish <= 0 {
		return Scored{}, &Trouble{Reason: NoAges}
	}
	for _, held := range c.held {
		if held <= 0 {
			return Scored{}, &Trouble{Reason: FewTrips, Fish: c.fish, Trips: c.trips}
		}
	}
	out := Scored{Fish: c.fish, Trips: c.trips, Folds: set.Folds, Floor: set.Floor}
	own := s
	own.Grid = s.Grid.ownRung()
	c.enter(Score{Form: Unborrowed}, func() (Worker, error) { return NewDirect(own, Borrowing{Least: 1, EdgeBins: set.Borrowing.EdgeBins}) })
	c.enter(Score{Form: Borrowed}, func() (Worker, error) { return NewDirect(s, set.Borrowing) })
	for _, smoothing := range set.Smoothing {
		c.enter(Score{Form: Smoothed, Smoothing: smoothing.filled()}, func() (Worker, error) { return NewSmooth(s, smoothing) })
	}
	out.Scores = c.scores
	for i, score := range out.Scores {
		if score.LogScore > out.Scores[out.Best].LogScore {
			out.Best = i
		}
	}
	for i := range out.Scores {
		score := &out.Scores[i]
		score.Behind = out.Scores[out.Best].LogScore - score.LogScore
		score.BehindSE = c.apart(i, out.Best)
	}
	return out, nil
}

// Smoothest is the smoothing of the best smoothed form; false when none was tried.
func (s Scored) Smoothest() (Smoothing, bool) {
	best := -1
	for i, score := range s.Scores {
		if score.Form == Smoothed && (best < 0 || score.LogScore > s.Scores[best].LogScore) {
			best = i
		}
	}
	if best < 0 {
		return Smoothing{}, false
	}
	return s.Scores[best].Smoothing, true
}

// ownRung is the grid without its ladder.
func (g Grid) ownRung() Grid {
	g.Rungs, g.Groups = g.Rungs[:1], g.Groups[:1]
	path := make([][]int32, len(g.Path))
	for k := range path {
		path[k] = g.Path[k][:1]
	}
	g.Path = path
	return g
}

// contest is the fish to be foretold, and the scores so far.
type contest struct {
	sample Sample
	set    Scoring
	row    []int32   // row of q that an entry is scored in, -1 not scored
	fold   []int32   // by entry
	unit   []int32   // trip, or entry of no trip, numbered from 0
	trips  int       // number of units
	fish   float64   // scored
	held   []float64 // scored, by fold
	scores []Score
	sums   [][]float64 // by form: sum of log scores by unit
	count  []float64   // scored fish by unit
	weight []float64
	q      []float64
	from   []Source
}

func newContest(s Sample, set Scoring) *contest {
	c := &contest{sample: s, set: set, held: make([]float64, set.Folds), weight: make([]float64, len(s.Entries))}
	rows := len(s.Grid.Path) * s.Grid.Bins
	c.q, c.from = make([]float64, rows*s.Grid.Ages), make([]Source, rows)
	strata := make([]int32, s.Grid.Groups[0])
	for g := range strata {
		strata[g] = int32(slices.IndexFunc(s.Grid.Path, func(path []int32) bool { return path[0] == int32(g) }))
	}
	units := map[int32]int32{}
	for i, e := range s.Entries {
		row := int32(-1)
		if group := s.Grid.Rungs[0][e.Origin]; group >= 0 && strata[group] >= 0 && e.Bin >= 0 && e.Age >= 0 {
			row = strata[group]*int32(s.Grid.Bins) + e.Bin
		}
		name, fold := e.Trip, int32(i%set.Folds)
		if e.Trip < 0 {
			name = -1 - int32(i)
		} else if fold = e.Trip % int32(set.Folds); set.Fold != nil {
			fold = set.Fold[e.Trip]
		}
		if fold < 0 || int(fold) >= set.Folds {
			panic("key: a trip's fold is not one of the folds")
		}
		unit, known := units[name]
		if !known {
			unit = int32(len(units))
			units[name], c.count = unit, append(c.count, 0)
		}
		c.row, c.fold, c.unit = append(c.row, row), append(c.fold, fold), append(c.unit, unit)
		if row >= 0 {
			c.fish, c.held[fold], c.count[unit] = c.fish+e.Fish, c.held[fold]+e.Fish, c.count[unit]+e.Fish
		}
	}
	for _, fish := range c.count {
		if fish > 0 {
			c.trips++
		}
	}
	return c
}

// enter scores one form over all folds.
func (c *contest) enter(score Score, entrant func() (Worker, error)) {
	sums := make([]float64, len(c.count))
	score.Settled = true
	work, err := entrant()
	if err != nil {
		score.Settled = false
	}
	for fold := range int32(c.set.Folds) {
		for i, e := range c.sample.Entries {
			if c.weight[i] = e.Fish; c.fold[i] == fold {
				c.weight[i] = 0
			}
		}
		told := work.Fit(c.q, c.from, c.weight, nil)
		score.Settled = score.Settled && told.Converged
		c.foretell(fold, sums, &score)
	}
	score.LogScore = sum(sums) / c.fish
	c.sums, c.scores = append(c.sums, sums), append(c.scores, score)
}

// foretell adds up what the key says of the fold's fish.
func (c *contest) foretell(fold int32, sums []float64, score *Score) {
	for i, e := range c.sample.Entries {
		if c.fold[i] != fold || c.row[i] < 0 || e.Fish <= 0 {
			continue
		}
		share := c.q[int(c.row[i])*c.sample.Grid.Ages+int(e.Age)]
		if share < c.set.Floor {
			share, score.Floored = c.set.Floor, score.Floored+e.Fish
		}
		sums[c.unit[i]] += float64(e.Fish * math.Log(share))
	}
}

// apart is the SE of the difference of two forms' scores.
func (c *contest) apart(i, j int) float64 {
	if c.trips < 2 {
		return 0
	}
	mean := c.scores[i].LogScore - c.scores[j].LogScore
	squares := 0.0
	for u, fish := range c.count {
		rest := c.sums[i][u] - c.sums[j][u] - float64(mean*fish)
		squares += float64(rest * rest)
	}
	m := float64(c.trips)
	return math.Sqrt(m/(m-1)*squares) / c.fish
}
