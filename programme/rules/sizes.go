package rules

import (
	"errors"
	"math"
	"slices"
	"strings"

	"earstone/programme/finding"
	"earstone/programme/measure"
	"earstone/programme/record"
	"earstone/programme/species"
)

func (c *check) fishTable() {
	for i, f := range c.book.Fish {
		if !enter(c, c.fish, fishFile, "fish", f.Fish, f.Row, i) {
			c.curvedBelowStraight(f, c.book.Fish[c.fish[f.Fish].at])
		}
		c.listed(fishFile, f.Row, f.Species)
		c.area(fishFile, f.Row, "area", f.Area)
		c.contributor(fishFile, f.Row, f.Contributor)
		refer(c, c.trips, tripsFile, fishFile, f.Row, "trip", f.Trip, func(i int) string { return string(c.book.Trips[i].Trip) }, len(c.book.Trips))
		c.notFuture(fishFile, f.Row, "caught_on", f.CaughtOn)
		c.notFuture(fishFile, f.Row, "received_on", f.ReceivedOn)
		c.after(fishFile, f.Row, "received_on", f.ReceivedOn, "caught_on", f.CaughtOn)
		c.positive(fishFile, f.Row, "length", f.Length.Value)
		c.positive(fishFile, f.Row, "weight", f.Weight)
		c.landed(f)
		c.sizes(f)
		c.converts(f)
	}
	c.weights()
}

// curvedBelowStraight holds two rows of one label against each other: a tape over the
// body can't measure less than a straight line.
func (c *check) curvedBelowStraight(one, other record.Fish) {
	if one.Length.Kind != record.CurvedFork {
		one, other = other, one
	}
	if one.Length.Kind != record.CurvedFork || other.Length.Kind != record.StraightFork {
		return
	}
	curved, okCurved := inCm(one.Length)
	straight, okStraight := inCm(other.Length)
	if okCurved && okStraight && curved < straight {
		c.add(finding.Contradiction, fishFile, one.Row, "length", text(one.Length.Value.X), "straight_fork", text(other.Length.Value.X))
	}
}

// landed asks whether a fish was caught before its trip landed.
func (c *check) landed(f record.Fish) {
	t, known := c.trips[f.Trip]
	if !known {
		return
	}
	landed := c.book.Trips[t.at].LandedOn
	if f.CaughtOn.Known() && landed.Known() && landed.Last().Before(f.CaughtOn) {
		c.add(finding.Contradiction, fishFile, f.Row, "caught_on", f.CaughtOn.String(), "landed_on", landed.String())
	}
	if f.CaughtOn.Known() && landed.Known() && landed.First().Serial()-f.CaughtOn.Last().Serial() > longestTrip {
		c.add(finding.Implausible, fishFile, f.Row, "caught_on", f.CaughtOn.String(), "landed_on", landed.String())
	}
}

// longestTrip is the days from a catch to its landing from which they are doubted.
const longestTrip = 60

func inCm(l record.Length) (float64, bool) {
	if !l.Value.Known || !(l.Value.X > 0) {
		return 0, false
	}
	return measure.InUnit(l.Value.X, l.Unit, "cm")
}

// sizes holds a length and a weight against what is published of the species.
func (c *check) sizes(f record.Fish) {
	if d := c.size(f.Species, f.Length); d.against != "" {
		c.add(finding.Implausible, fishFile, f.Row, "length", text(f.Length.Value.X), d.against, d.bound)
	}
	facts, _ := species.Of(f.Species)
	kg, weighed := measure.InUnit(f.Weight.X, f.WeightUnit, "kg")
	if largest := largest(facts.MaximumWeight); weighed && f.Weight.Known && largest > 0 && kg > largest {
		c.add(finding.Implausible, fishFile, f.Row, "weight", text(f.Weight.X), "maximum_weight", text(largest))
	}
}

func largest(all []species.Value) (x float64) {
	for _, v := range all {
		x = max(x, v.X)
	}
	return x
}

// converts asks whether a length can be brought to the kind of the length bins: once a
// kind and species when not, and for each fish when the equation was not made for it.
func (c *check) converts(f record.Fish) {
	to := c.book.Settings.LengthBin.Kind
	if !f.Length.Value.Known || f.Length.Kind == record.LengthKindUnknown || to == record.LengthKindUnknown {
		return
	}
	got, err := c.converter.Length(f.Species, f.Length, to, "cm")
	trouble, _ := err.(measure.Trouble)
	key := string(f.Species) + " " + f.Length.Kind.String()
	switch {
	case err == nil && got.Extrapolated:
		c.add(finding.Extrapolated, fishFile, f.Row, "length", text(f.Length.Value.X), ends(got.Outside.Low), ends(got.Outside.High))
	case err == nil || slices.Contains(c.told, key):
	case trouble.Reason == measure.TwoEquations:
		c.told = append(c.told, key)
		c.twoPublications(fishFile, f.Row, "length_kind", f.Species, f.Length.Kind.String(), to.String())
	case trouble.Reason == measure.NoEquation:
		c.told = append(c.told, key)
		c.add(finding.NoConversion, fishFile, f.Row, "length_kind", f.Length.Kind.String(), f.Length.Kind.String(), to.String())
	}
}

func ends(x record.Number) string {
	if !x.Known {
		return ""
	}
	return text(x.X)
}

func (c *check) twoPublications(file string, row int, column string, code record.Species, from, to string) {
	var sources []string
	for _, one := range append(c.converter.Ambiguous(code, from, to), c.converter.Ambiguous(code, to, from)...) {
		sources = append(sources, one.Source)
	}
	c.add(finding.TwoPublications, file, row, column, "", from, to, strings.Join(sources, "; "))
}

// conversionTable asks whether each equation of the programme can be used, and is the
// only one of its kind.
func (c *check) conversionTable() {
	var told []string
	for _, one := range c.book.Conversions {
		c.equation(one)
		key := string(one.Species) + " " + one.From + " " + one.To
		if len(c.converter.Ambiguous(one.Species, one.From, one.To)) > 0 && !slices.Contains(told, key) {
			told = append(told, key)
			c.twoPublications(conversionsFile, one.Row, "from", one.Species, one.From, one.To)
		}
	}
}

// equation tells why an equation can't be used: its units, or a, b and the form; or that
// its results have no size of a fish. A residual SD of logarithms above 2 is none.
func (c *check) equation(one record.Conversion) {
	tell := func(column, value, why string, facts ...string) {
		c.add(finding.NotThisThing, conversionsFile, one.Row, column, value, append([]string{why}, facts...)...)
	}
	switch e, err := measure.NewEquation(one); {
	case errors.Is(err, measure.ErrUnit):
		tell("unit", one.Unit, "unit_of_equation", measure.StandardUnit(one.From)+" to "+measure.StandardUnit(one.To))
	case err != nil:
		tell("form", one.Form, "rising_equation")
	case e.Form.Logs() && one.SD.Known && one.SD.X > 2:
		tell("sd", text(one.SD.X), "sd_of_logarithms")
	case !(e.At(100) < 1e7 && e.At(1000) > 1e-7):
		tell("form", one.Form, "size_of_a_fish")
	}
}

// pair is one record of two sizes that grow together, in logarithms.
type pair struct {
	x, y float64
	at   int // of the record
}

// least is how many pairs a line through them needs.
const least = 20

// weights holds each weight against the length, among fish of one species measured and
// weighed alike; in a small group against the published range of condition.
func (c *check) weights() {
	type alike struct {
		species record.Species
		kind    record.LengthKind
		form    record.WeightForm
	}
	groups, order := map[alike][]pair{}, []alike(nil)
	for i, f := range c.book.Fish {
		cm, measured := inCm(f.Length)
		kg, weighed := measure.InUnit(f.Weight.X, f.WeightUnit, "kg")
		if !measured || !weighed || !f.Weight.Known || !(kg > 0) {
			continue
		}
		key := alike{f.Species, f.Length.Kind, f.WeightForm}
		if groups[key] == nil {
			order = append(order, key)
		}
		groups[key] = append(groups[key], pair{x: math.Log(cm), y: math.Log(kg), at: i})
	}
	for _, key := range order {
		pairs := groups[key]
		if line, ok := throughMiddle(pairs); ok {
			for _, p := range pairs {
				f := c.book.Fish[p.at]
				c.far(line, p, f, fishFile, f.Row, "weight", text(f.Weight.X), "length")
			}
		} else if facts, known := species.Of(key.species); known && key.form == record.Round && key.kind == record.StraightFork {
			c.condition(facts, pairs)
		}
	}
}

// condition holds Fulton's K = 100 000 W/L³ (kg, cm) against its published range.
func (c *check) condition(facts species.Facts, pairs []pair) {
	for _, p := range pairs {
		f := c.book.Fish[p.at]
		for _, credible := range facts.Condition {
			k := 1e5 * math.Exp(p.y-3*p.x)
			inches := k / (2.54 * 2.54 * 2.54)
			switch {
			case k >= credible.Low && k <= credible.High:
			case f.Length.Unit == "cm" && inches >= credible.Low && inches <= credible.High:
				c.typedInches(f)
			default:
				c.add(finding.Implausible, fishFile, f.Row, "weight", text(f.Weight.X), "condition", rounded(k))
			}
		}
	}
}

// typedInches says once a fish that its length fits only as inches, and what it would be.
func (c *check) typedInches(f record.Fish) {
	if !c.inches[f.Row] {
		c.inches[f.Row] = true
		c.add(finding.InchesAsCm, fishFile, f.Row, "length", text(f.Length.Value.X), tenths(f.Length.Value.X*2.54))
	}
}

// The residuals, in robust SDs, from which a record is doubted and from which it is held.
const (
	doubted = 3
	held    = 6
)

// far finds a pair that lies off the line. A length typed in inches where centimetres
// were asked for moves a record by b ln 2.54: when that alone explains it, it is said.
func (c *check) far(l line, p pair, f record.Fish, file string, row int, column, value, against string) {
	z := l.z(p)
	if !(math.Abs(z) > doubted) {
		return
	}
	if inches := (pair{x: p.x + math.Log(2.54), y: p.y}); f.Length.Unit == "cm" && math.Abs(l.z(inches)) < doubted/2.0 && l.slope > 0.5 {
		c.typedInches(f)
		return
	}
	kind := finding.Implausible
	if math.Abs(z) > held {
		kind = finding.Held
	}
	c.add(kind, file, row, column, value, against, rounded(z))
}
