package report

import (
	"fmt"

	"earstone/pages/words"
)

// methods tells in brief what was computed; docs/methods.md has the equations.
func (t *teller) methods() []entry {
	level, replicates := level(t.o.Options.Level), words.Count(t.o.Options.Replicates)
	entries := []entry{
		{"From stones to catch", []string{
			"A reading is turned into an age class by the calendar of the species, and several readings of a fish into one agreed age by the programme's rule. Aged fish give the share of each age at each length: the key. Lengths of sampled trips, weighted by what each trip landed, give the lengths of each stratum; key and lengths together, raised to the catch of the stratum, give the catch at age.",
			"A length with too few aged fish borrows along the ladder that the programme declares, never further; a stratum without a trip is filled from trips that share the most columns with it. Both are told wherever they matter. Fish that no key reaches are counted as unaged and not dropped."}},
		{"What the intervals mean", []string{
			fmt.Sprintf("The season was drawn again %s times, the trip being the unit: a trip brings its lengths and its aged fish with it, since fish of one trip are alike. Were the season sampled anew many times, an interval of %s should hold the true value in that share of seasons.", replicates, level),
			"Intervals of numbers and shares are of the kind of Korn and Graubard (1998): exact for a share, with the number of fish taken down to those that are worth as much as fish drawn singly, and widened where few trips stand behind them. They never reach below nothing. Beside them, in the tables, stand the percentile interval of the replicates and the BCa interval (Efron 1987), which corrects it for bias and skewness. Where the three part, few trips are the cause; take the widest.",
			"An interval knows of the trips, the stones, conversions whose spread is published, catches that carry a CV, and, in keys of true ages, the readers. It does not know of catches that were never reported, of a calendar that is wrong, or of strata without a sample that are unlike the others."}},
		{"Monte Carlo error", []string{t.monteCarlo()}},
		{"The other standard error", []string{
			"The formula adds what the stones and the trips contribute, each by itself, and takes stones for drawn singly within a length bin. Resampling does not. A gap between the two says how much the trips matter, or that cells are too thin for the formula."}},
		{"Scores of the keys", []string{
			"Trips are held out by turns; each form of key foretells the ages of the fish that it has not seen, and scores the mean of the logarithm of the share that it gave to the age found. Higher is better; 0.1 is a tenth better odds for each fish."}},
		{"Readers", []string{
			"APE after Beamish and Fournier (1981), CV after Chang (1982). The ageing error is fitted by maximum likelihood to fish that were read more than once, after Richards, Schnute and Kronlund (1992) and Punt and others (2008); one reader is taken as unbiased unless fish of known age settle it."}},
	}
	return entries
}

// monteCarlo says how far the ends of intervals wander by chance of the replicates.
func (t *teller) monteCarlo() string {
	says := "Had other random numbers been drawn, the ends of the percentile intervals would lie elsewhere"
	sum, n := 0.0, 0
	for _, s := range t.o.Species {
		if s.Catch == nil {
			continue
		}
		for i := range s.Catch.Years {
			for _, e := range s.Catch.Years[i].Number {
				width := e.Percentile.High.X - e.Percentile.Low.X
				if e.Percentile.Low.Known && e.Percentile.High.Known && width > 0 {
					sum += max(e.MonteCarlo[0], e.MonteCarlo[1]) / width
					n++
				}
			}
		}
	}
	if n > 0 && finite(sum) {
		says += fmt.Sprintf(", by about %s of the width of the interval", percent(sum/float64(n)))
	}
	return says + ". More replicates make this smaller; they do not make the interval narrower."
}

func (t *teller) cautions() []string {
	return []string{
		"This is an estimate from samples. It is not an assessment of a stock, and it says nothing by itself about how many fish are left in the sea.",
		"It stands or falls with three things that no interval shows: that trips are a fair sample of the landings of their stratum, that aged fish are a fair sample of the fish of their length, and that one annulus a year is laid down around the declared day.",
		"Ages that few fish have are the least sure. Look at the interval and at the aged fish behind it before a number is passed on alone.",
	}
}
