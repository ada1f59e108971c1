package run

import (
	"earstone/estimate/catch"
	"earstone/estimate/key"
	"earstone/estimate/tally"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/programme/result"
	"earstone/programme/strata"
	"earstone/reading/age"
	"earstone/reading/ageerror"
	"earstone/reading/agreement"
)

// Outcome is all that a run found.
type Outcome struct {
	Settings record.Settings
	Options  Options
	Readers  []record.ReaderID // in the order of every pattern and matrix
	Species  []*Species
	Assays   AssaysFound  // of all species, which share their runs
	Found    finding.List // what the chain came upon, each with its place
	Stages   []Stage
}

// Stage is a part of the work and the seconds it took.
type Stage struct {
	Name    string
	Seconds float64
}

// Species is what was found of one species. A part that was not asked for, or could not
// be had, is nil.
type Species struct {
	Species   record.Species
	Ages      []FishAge
	Derived   []DerivedLength // of fish that were weighed and not measured
	Agreement *agreement.Report
	Errors    *ageerror.Fit
	NoErrors  error // why Errors is nil, in the field's words
	Counts    *tally.Counts
	Key       *KeyFound
	NoKey     error // why Key is nil
	Weighed   *WeighedFound
	NoWeighed error // why stone mass could not be held against length
	Catch     *CatchFound
	Growth    *GrowthFound
	NoGrowth  error // why Growth has no reported curve
	Back      *BackFound
	NoBack    error // why there are no lengths at annuli
	Mortality *MortalityFound
	Origin    *OriginFound
	NoOrigin  error // why Origin is nil
	Budget    *BudgetFound
	Advice    *AdviceFound
	NoAdvice  error // why Advice is nil
	Influence *InfluenceFound
}

// FishAge is a fish with what is said of its age.
type FishAge struct {
	Fish *record.Fish
	age.Result
}

// KeyFound is the age-length key of a species and what it rests on.
type KeyFound struct {
	Form      string        // one of Forms
	Smoothing key.Smoothing // of a smoothed form: the one with the best held-out score
	InPlace   string        // the form that was asked for and could not be had; empty: none
	Q         []float64     // key strata × bins × ages
	From      []key.Source  // key strata × bins
	Used      []float64     // aged fish beneath each row
	Told      key.Told
	Scored    *key.Scored // held-out scores of the forms side by side
	NoScores  error       // why Scored is nil
	Areas     []AreaFound // does one key serve?
	Rests     Rests
	Rebuilt   []key.Rebuilt // strata without ages of their own year: growth is taken to be that of other years

	cells []catch.KeyCell // the pool of aged fish beneath each row
}

// Rests is what the fish of the catch rest on, in shares of the catch that has lengths.
type Rests struct{ Own, Borrowed, Unaged float64 }

// AreaFound is a test whether age given length differs along a column that the key pools.
type AreaFound struct {
	Column strata.Set
	key.AreaTest
	Values int           // of the column, with aged fish
	Shift  record.Number // largest change of a share at age of the catch, were each its own key
}

// CatchFound is the catch at age, stratum by stratum and by year.
type CatchFound struct {
	Ages    []string // names of the kept classes, the plus group as "12+"
	Strata  []Place  // in the order of Counts.Cells
	Years   []Place  // in the order of Counts.Years
	Sums    []Place  // by quarter, area and gear of a year, in the order of the rest of Counts.Sums
	Changes []Change // between years, and between quarters, areas and gears of a year
	Unknown int      // replicates in which the key's fit did not settle
}

// Place is the catch at age of a stratum, or of a year.
type Place struct {
	Cell     strata.Cell
	Trips    int
	Stones   int
	Single   bool // one sampled trip: its spread is pooled from others
	Filled   float64
	FilledBy strata.Set // meaningful when Filled is 1 for a stratum

	Number, Share, MeanLength, MeanWeight []Estimate // by kept age
	Total, Unaged                         Estimate
	Effective                             record.Number // effective sample size of the shares, from the replicates
	EffectiveAnalytic                     record.Number
	Covariance                            []float64 // of the numbers, resampled; years only
	Alike                                 record.Number
}

// Estimate is a value with its intervals. Low and High are those of Method; the others
// stand beside them.
type Estimate struct {
	result.Estimate
	Method     string        // ByShare or ByPercentile; empty: no interval
	Percentile Bounds        // of the replicates
	BCa        Bounds        // the same, corrected for bias and skewness
	MonteCarlo [2]float64    // standard error of the percentile ends that comes of the number of replicates
	Freedom    float64       // degrees of freedom of SE: how few trips it rests on; 0: not known
	Analytic   record.Number // standard error by the formula, beside the resampled one
}

// Bounds are the ends of an interval.
type Bounds struct{ Low, High record.Number }
