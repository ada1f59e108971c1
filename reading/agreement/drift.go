package agreement

import (
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
)

// Control is one re-reading of a stone of the reference collection by a reader.
type Control struct {
	On           date.Day // when it was read again; known
	First, Again int      // the reader's own first count of the fish, and this one
}

// The rule of drift, in numbers of control re-readings.
const (
	// ReferencePeriod is how many of a reader's first re-readings set the limits.
	ReferencePeriod = 20
	// RunningOver is how many re-readings a running mean goes over.
	RunningOver = 10
)

// Limits are a centre with limits on either side.
type Limits struct{ Centre, Low, High float64 }

// DriftPoint is where a reader stands after a control re-reading.
type DriftPoint struct {
	On       date.Day
	Mean, CV float64 // running over the last RunningOver: of again − first, and percent
	Breach   bool
}

// Drift follows one reader through time. Set is false, and there are no points, until
// the reference period is full.
type Drift struct {
	Reader     record.ReaderID
	Controls   int
	Set        bool
	Difference Limits // rings
	CV         Limits // percent; only its upper limit can be broken
	Points     []DriftPoint
	Breached   date.Day // of the first breach; unknown when there is none
}

// DriftOf follows the control re-readings of a reader, which stand in order of time.
//
// Each re-reading gives the difference d = again − first to the reader's own first
// count of that fish, and CV = 100 √2 |again − first| / (again + first), 0 when both
// are 0. The first 20 re-readings are the reader's reference period; their means m and
// standard deviations s set the limits. From the tenth re-reading after it on, the mean
// of the last 10 is held against
//
//	m ± 3 s √(1/10 + 1/20),
//
// three standard errors of the difference between a mean of 10 and the mean of the
// reference period, which is itself an estimate. The mean difference breaches on
// either side, the mean CV above only: a reader may grow more precise.
//
// Slips are rare and whole, so that 20 re-readings tell s badly, and a reader without a
// slip among them would breach at the first. Two slips are therefore added to what the
// reference period saw: s² = (Σ (d − m)² + 2u²)/(19 + 2), u being one ring, for the CV
// 100 √2/(2x̄), one ring apart about the mean first count x̄ (at least 1).
// Without them one steady reader in five would be stopped within 60 re-readings; with
// them, of 2,000 steady readers who slip in a tenth to a half of their re-readings, at
// most 1 % of points and 9 % of readers breach (measured, TestFalseAlarmsOfDrift).
//
// What follows from a breach is for a person to settle.
//
// Methods, section 3, "drift"; the numbers 20, 10 and the two slips are ours.
func DriftOf(reader record.ReaderID, controls []Control) Drift {
	out := Drift{Reader: reader, Controls: len(controls)}
	if len(controls) < ReferencePeriod {
		return out
	}
	n := len(controls)
	d, cv := make([]float64, n), make([]float64, n)
	rings := 0
	for i, c := range controls {
		d[i] = float64(c.Again - c.First)
		if both := c.Again + c.First; both > 0 {
			cv[i] = 100 * math.Sqrt2 * math.Abs(d[i]) / float64(both)
		}
		if i < ReferencePeriod {
			rings += c.First
		}
	}
	count := math.Max(float64(rings)/ReferencePeriod, 1)
	out.Set = true
	out.Difference = limits(d[:ReferencePeriod], 1)
	out.CV = limits(cv[:ReferencePeriod], 100*math.Sqrt2/(2*count))
	for i := ReferencePeriod + RunningOver; i <= n; i++ {
		p := DriftPoint{On: controls[i-1].On, Mean: mean(d[i-RunningOver : i]), CV: mean(cv[i-RunningOver : i])}
		p.Breach = p.Mean < out.Difference.Low || p.Mean > out.Difference.High || p.CV > out.CV.High
		if p.Breach && !out.Breached.Known() {
			out.Breached = p.On
		}
		out.Points = append(out.Points, p)
	}
	return out
}

// limits are three standard errors about the mean of a reference period, to which two
// slips of one unit are added.
func limits(x []float64, unit float64) Limits {
	m, squares := mean(x), 2*unit*unit
	for _, v := range x {
		squares += float64((v - m) * (v - m))
	}
	sd := math.Sqrt(squares / float64(len(x)-1+2))
	half := 3 * sd * math.Sqrt(1.0/RunningOver+1.0/ReferencePeriod)
	return Limits{m, m - half, m + half}
}

func mean(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total / float64(len(x))
}
