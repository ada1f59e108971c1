package fishery

import (
	"errors"
	"fmt"
	"math"
)

// Check tells what does not fit together in the settings, all of it; nil when
// nothing is wrong.
func (s Settings) Check() error {
	var wrong []error
	ask := func(fine bool, format string, args ...any) {
		if !fine {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	for _, share := range []struct {
		name string
		of   float64
	}{
		{"TripAges", s.TripAges}, {"TripSizes", s.TripSizes}, {"TripGrowth", s.TripGrowth},
		{"CatchInWeight", s.CatchInWeight}, {"StonesWithoutTrip", s.StonesWithoutTrip},
		{"UnsampledShare", s.UnsampledShare}, {"OneTripShare", s.OneTripShare},
		{"MixedKinds", s.MixedKinds}, {"PartialDates", s.PartialDates}, {"EdgeNoise", s.EdgeNoise},
		{"ShareMemory", s.ShareMemory}, {"TripNursery", s.TripNursery},
		{"ChippedStones", s.ChippedStones}, {"UnseenYears", s.UnseenYears},
	} {
		ask(share.of >= 0 && share.of <= 1, "%s is %v: a share lies between 0 and 1", share.name, share.of)
	}
	ask(s.TripAges < 1 && s.TripSizes < 1 && s.TripGrowth < 1 && s.TripNursery < 1,
		"fish of one trip can't be all the same: TripAges, TripSizes, TripGrowth and TripNursery stay below 1")
	ask(s.AreaEffect > -0.5 && s.AreaEffect < 0.5, "AreaEffect is %v: it stays between −0.5 and 0.5", s.AreaEffect)
	ask(s.Years >= 1 && s.FirstYear >= 100 && s.FirstYear+s.Years < 10_000, "%d years from %d are no seasons", s.Years, s.FirstYear)
	ask(s.OldestAge >= 2 && s.OldestAge <= 60, "the oldest age is %d: 2 to 60", s.OldestAge)
	ask(s.PlusGroup >= 0 && s.PlusGroup <= s.OldestAge, "the plus group %d lies beyond the oldest age %d", s.PlusGroup, s.OldestAge)
	ask(s.LargestCm > 0 && s.LargestCm < 1_000 && s.GrowthRate > 0 && s.AgeAtZeroLength <= 0, "fish grow from below age 0 to under 10 metres")
	ask(s.LengthCV > 0 && s.LengthCV <= 0.2, "LengthCV is %v: above 0, up to 0.2", s.LengthCV)
	ask(s.WeightA > 0 && s.WeightB > 0, "a fish weighs something: WeightA and WeightB are above 0")
	ask(s.MassA > 0 && s.MassSpread >= 0, "a stone weighs something: MassA is above 0, MassSpread not below")
	ask(s.CatchMedian > 0 && s.LandedMedian > 0, "CatchMedian and LandedMedian are above 0")
	ask(s.Calendar.BirthDay.Known() && s.Calendar.AnnulusDay.Known() && s.Calendar.AnnulusWindowDays >= 0, "the calendar lacks a day")
	ask(s.BinCm >= 1, "BinCm is %d: 1 or more", s.BinCm)
	ask(len(s.Gears) > 0 && len(s.Banks) > 0, "there is no gear or no bank")
	for _, b := range s.Banks {
		ask(b.Gears >= 1 && b.Gears <= len(s.Gears), "%d of %d gears fish at %s", b.Gears, len(s.Gears), b.Name)
	}
	ask(s.Aged >= 1 && s.Aged <= s.Lengths, "of %d fish measured %d are aged", s.Lengths, s.Aged)
	ask(len(s.Readers) >= 1 && s.Readings >= s.Aged && s.Readings <= s.Aged*len(s.Readers),
		"%d readers can't make %d readings of %d fish, each fish once to each reader and by one at least", len(s.Readers), s.Readings, s.Aged)
	ask(s.FewestTrips >= 2 && s.MostTrips >= s.FewestTrips, "a sampled stratum has from %d to %d trips: from 2 up", s.FewestTrips, s.MostTrips)
	none, one, full := s.sampled()
	ask(full >= 1, "of %d strata none has more than one trip", none+one+full)
	ask(s.Trips >= one+full*s.FewestTrips && s.Trips <= one+full*s.MostTrips,
		"%d trips can't be dealt over %d strata, %d to %d each, and %d with one", s.Trips, full, s.FewestTrips, s.MostTrips, one)
	s.checkStones(ask)
	s.checkNurseries(ask)
	return errors.Join(wrong...)
}

type asker func(fine bool, format string, args ...any)

// checkStones asks about fish beyond those that are read and about assays.
func (s Settings) checkStones(ask asker) {
	ask(s.WeighedOnly >= 0 && s.WeighedOnly <= s.Lengths-s.Aged, "of %d fish measured, %d are aged and %d more weighed", s.Lengths, s.Aged, s.WeighedOnly)
	ask(s.KnownAges >= 0 && s.KnownAges <= s.Aged, "of %d fish aged, the age of %d is known", s.Aged, s.KnownAges)
	ask(s.Assayed >= 0 && s.Assayed <= s.Aged, "of %d fish aged %d are assayed", s.Aged, s.Assayed)
	ask(s.Assayed == 0 || len(s.Nurseries) > 0, "%d fish are assayed and there is no nursery", s.Assayed)
	fish := s.Assayed + s.baselineFish()
	ask(fish == 0 || s.RunSize >= 1, "RunSize is %d: 1 or more", s.RunSize)
	for _, sd := range s.AssaySD {
		ask(sd >= 0, "AssaySD is %v: 0 or more", sd)
	}
	ask(s.RunSD >= 0, "RunSD is %v: 0 or more", s.RunSD)
	ask(s.DriftingRuns >= 0 && s.DriftingRuns*s.RunSize <= fish, "%d fish in runs of %d don't fill %d runs that drift", fish, s.RunSize, s.DriftingRuns)
}

func (s Settings) checkNurseries(ask asker) {
	ask(len(s.Nurseries) <= 100, "there are %d nurseries: up to 100", len(s.Nurseries))
	ask(s.ShareSpread >= 0, "ShareSpread is %v: 0 or more", s.ShareSpread)
	names, sum := map[string]bool{}, 0.0
	for _, n := range s.Nurseries {
		ask(n.Name != "" && !names[n.Name], "nurseries have names of their own: %q", n.Name)
		names[n.Name] = true
		sum += n.Share
		ask(n.Share > 0, "the share of nursery %s is %v: above 0", n.Name, n.Share)
		ask(n.Correlation > -1 && n.Correlation < 1, "tracers of nursery %s correlate by %v: between −1 and 1", n.Name, n.Correlation)
		ask(n.Baseline >= 0, "the baseline of nursery %s has %d fish a year class", n.Name, n.Baseline)
		for j := range Tracers {
			ask(n.SD[j] > 0 && n.YearSD[j] >= 0, "fish of nursery %s differ in %s: SD is above 0, YearSD not below", n.Name, tracers[j].name)
		}
	}
	ask(len(s.Nurseries) == 0 || math.Abs(sum-1) < 1e-9, "the shares of the nurseries sum to %v, want 1", sum)
}

// strataAYear is the number of strata of one year.
func (s Settings) strataAYear() int {
	n := 0
	for _, b := range s.Banks {
		n += 4 * b.Gears
	}
	return n
}

// sampled is how many strata have no trip, one trip, and more.
func (s Settings) sampled() (none, one, full int) {
	n := s.strataAYear() * s.Years
	none = int(s.UnsampledShare*float64(n) + 0.5)
	one = int(s.OneTripShare*float64(n) + 0.5)
	return none, one, n - none - one
}

// columns is the number of age columns of the truth: ages 0, 1, ... and the last,
// which holds all older fish where there is a plus group.
func (s Settings) columns() int {
	if s.PlusGroup == 0 {
		return s.OldestAge + 1
	}
	return s.PlusGroup + 1
}
