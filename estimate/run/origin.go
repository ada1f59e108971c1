package run

import (
	"errors"
	"slices"
	"strconv"

	"earstone/estimate/change"
	"earstone/estimate/origin"
	"earstone/estimate/resample"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/statistics/dist"
)

// OriginFound is what the chemistry of stones says of the nurseries that fish grew up in.
//
// Fit holds the densities in the plane of the tracers (Mean and Covariance by nursery,
// of the logarithm of a tracer where it is declared), the forms with their held-out
// scores, and what is said of each fish; its Fish are in the order of Fish here.
type OriginFound struct {
	Nurseries []string      // sorted; every share below is in this order
	Tracers   []TracerFound // in the order of every vector of values
	Known     []KnownFish   // the baseline
	Fish      []TracedFish  // the catch, in the order of Fit.Fish
	Unused    Unused
	Fit       *origin.Fit
	Designed  bool // fish stand for the catch they were picked from; else each for itself

	// Whole is the composition of all fish inside the baseline by nursery, as EM finds it,
	// and Outside the share outside. Intervals are over replicates where there is a catch.
	Whole   []Estimate
	Outside Estimate

	Bayes   *origin.Simulated // the same composition by simulation, with the diagnoses of its chains
	NoBayes error             // why Bayes is nil

	// Groups are the compositions by place (Places, year × area) and single age, pooled;
	// nil: none, NoGroups says why. Ages run from Groups.First to Groups.Last.
	Groups   *origin.Groups
	NoGroups error
	Places   []strata.Cell

	// The catch by nursery, joint with the catch at age. Empty without a catch at age.
	Strata  []NurseryPlace // in the order of CatchFound.Strata
	Years   []NurseryPlace // in the order of CatchFound.Years
	Sums    []NurseryPlace // in the order of CatchFound.Sums
	Changes []NurseryChange

	Unfit     int // replicates whose redrawn baseline gave no density: that of the estimate stood in
	Unsettled int // replicates in which an iteration did not come to its end
}

// TracerFound is a tracer that took part.
type TracerFound struct {
	origin.Tracer
	Unit string
}

// KnownFish is a fish of the baseline.
type KnownFish struct {
	Fish      record.FishID
	Nursery   int // of OriginFound.Nurseries
	YearClass int // 0: unknown
	X         []float64
	Lacks     origin.Lacking // a fish that lacks a tracer is not in the densities
}

// TracedFish is an assayed fish of the catch.
type TracedFish struct {
	Fish   *record.Fish
	X      []float64
	Lacks  origin.Lacking
	Weight float64 // fish of the catch that it stands for; 0: judged, and in no composition
	Trip   int     // of Counts.Trips; −1: of no sampled trip
	Place  int     // of OriginFound.Places
	Age    int     // kept age class; −1: unknown
	Cohort int     // 0: unknown
}

// Unused counts what of the assays could not be taken.
type Unused struct {
	Held    int      // values of runs that are held out
	Scale   int      // values on a scale that can't be turned into VPDB
	Unit    int      // values in another unit than most of their tracer
	Region  int      // values of another region than the core
	Tracers []string // tracers that fewer than half of the baseline's fish have
}

// NurseryPlace is the catch by nursery of a stratum, a year or a sum within it. Rows are
// the kept ages and then all of them together; columns are the nurseries and then what
// lies outside the baseline.
type NurseryPlace struct {
	Cell          strata.Cell
	Trips, Stones int          // assayed fish and the trips they came off
	Filled        float64      // share of the catch in filled strata
	Assayed       []int        // fish by row; at 0 an age has the answer of its neighbours alone
	Number        [][]Estimate // rows × columns, fish
	Share         [][]Estimate // of the row's catch; nil for single strata
}

// NurseryChange is what differs in the composition by nursery between two places, all ages
// together.
type NurseryChange struct {
	A, B     strata.Cell
	Shares   []change.Difference // by nursery; the share outside is one for all places
	Whole    change.Whole
	Compared bool // Whole could be had
}

// AssaysFound is what the reference materials say of the assay runs.
type AssaysFound struct {
	Runs   []origin.AssayRun // by tracer, material and run
	Held   []origin.Held     // held out of every estimate until a person decides
	Drifts []origin.Drift
}

// assays judges the assay runs by their reference materials, and tells those held out.
func (c *chain) assays() {
	var all []origin.ReferenceAssay
	for _, s := range c.book.Standards {
		if s.Value.Known && s.Expected.Known {
			all = append(all, origin.ReferenceAssay{Run: s.Run, Material: s.Material, Tracer: s.Tracer, Value: s.Value.X, Expected: s.Expected.X})
		}
	}
	found := &c.outcome.Assays
	found.Runs, found.Drifts = origin.JudgeRuns(all), origin.Drifts(all)
	found.Held = origin.HoldOut(found.Runs)
	for _, held := range found.Held {
		at := slices.IndexFunc(c.book.Standards, func(s record.ReferenceAssay) bool { return s.Run == held.Run && s.Tracer == held.Tracer })
		c.outcome.Found.Add(finding.RunHeldOut, finding.Place{File: "standards.csv", Row: c.book.Standards[at].Row, Column: "run"}, held.Run, held.Tracer)
	}
}

// ErrNoBaseline is why there is no nursery of origin where nobody asked for one.
var ErrNoBaseline = errors.New("baseline.csv holds no fish of known nursery")

// origin judges the assayed fish and composes the catch; it gives what the replicates do
// again, which is nothing where there is no composition, or no catch to be composed.
func (c *chain) origin(s *Species) []part {
	found, problem := c.traced(s)
	if found == nil {
		s.NoOrigin = ErrNoBaseline
		return nil
	}
	sample := c.weigh(s, found, problem)
	fit, err := origin.Estimate(*problem, origin.Settings{})
	if err != nil {
		s.NoOrigin = err
		c.stage("origin")
		return nil
	}
	found.Fit, s.Origin = fit, found
	c.tellOutside(s)
	found.fromFit()
	found.Bayes, found.NoBayes = fit.Simulate(origin.Simulation{Seed: c.options.Seed, Level: c.options.Level, Sweeps: sweeps,
		Parallel: func(n int, f func(i int)) { resample.Each(c.options.Workers, n, f) }})
	found.Groups, found.NoGroups = fit.Groups(origin.Pooling{Groups: len(found.Places), Last: max(s.Counts.Design.Out()-1, 0), Shift: found.shift()})
	c.stage("origin")
	if !found.Designed || found.Groups == nil {
		return nil
	}
	beside := &besideOrigin{found: found, stands: sample}
	return []part{{beside, func(v *view, at int) { found.absorb(v, s, at) }}}
}

// sweeps of each chain: shares have effective sizes in the thousands after these.
const sweeps = 2000

// weigh gives each fish the catch that it stands for; without a catch each stands for
// itself.
func (c *chain) weigh(s *Species, found *OriginFound, problem *origin.Problem) *stands {
	fish := make([]*record.Fish, len(found.Fish))
	for i := range fish {
		fish[i] = found.Fish[i].Fish
	}
	sample := c.newStands(s.Counts, fish, partOrigin)
	weights := c.pointWeights(s, &sample)
	found.Designed = weights != nil
	for i := range found.Fish {
		found.Fish[i].Weight = 1
		if weights != nil {
			found.Fish[i].Weight = weights[i]
		}
		found.Fish[i].Trip = int(sample.trip[i])
		problem.Mixed[i].Weight, problem.Mixed[i].Trip = found.Fish[i].Weight, found.Fish[i].Trip
	}
	return &sample
}

// shift lays the ages of each place along the year classes: a fish of one cohort came from
// where it came from, in whatever year it is caught. nil with one year, in which an age is
// a cohort. A place of no year stands with the last.
func (o *OriginFound) shift() []int {
	first, last := 0, 0
	for _, cell := range o.Places {
		if y := int(cell.Year); y > 0 && (first == 0 || y < first) {
			first = y
		}
		last = max(last, int(cell.Year))
	}
	if first == last {
		return nil
	}
	shift := make([]int, len(o.Places))
	for g, cell := range o.Places {
		if cell.Year > 0 {
			shift[g] = last - int(cell.Year)
		}
	}
	return shift
}

// fromFit takes the composition from the fit itself; replicates overrule it.
func (o *OriginFound) fromFit() {
	for k := range o.Nurseries {
		e := Estimate{}
		if o.Fit.Composition.Fish > 0 {
			e.Value = record.Some(o.Fit.Composition.Share[k])
			if o.Fit.Composition.SE != nil {
				e.SE = record.Some(o.Fit.Composition.SE[k])
			}
		}
		o.Whole = append(o.Whole, e)
	}
	if o.Fit.Composition.Fish > 0 || o.Fit.Outsiders > 0 {
		o.Outside.Value = record.Some(o.Fit.OutsideShare)
	}
}

// tellOutside warns where more fish lie outside the baseline than chance would put there:
// a nursery may be missing from it. By chance one in 200 of a nursery's own fish does.
func (c *chain) tellOutside(s *Species) {
	f := s.Origin.Fit
	n, out := float64(len(f.Fish)), float64(f.Outsiders)
	if out < 3 || dist.BetaCDF(0.005, out, n-out+1) > 0.001 { // P(out or more of n)
		return
	}
	c.outcome.Found.Add(finding.OutsideBaseline, finding.Place{File: "baseline.csv", Column: "nursery"}, strconv.Itoa(f.Outsiders),
		string(s.Species), strconv.Itoa(len(f.Fish)))
}
