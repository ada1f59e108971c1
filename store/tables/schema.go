package tables

import (
	"math"

	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/record"
)

// The words of the closed lists that are plain texts in package record.
var (
	contributorKinds = []string{"angler", "crew", "dealer", "sampler", "survey"}
	lengthUnits      = []string{"mm", "cm", "in"}
	weightUnits      = []string{"kg", "g", "lb"}
	conditions       = []string{"whole", "chipped", "broken", "absent"}
	membranes        = []string{"on", "off"}
	purposes         = []string{"age", "chemistry", "both", "archive"}
	markKinds        = []string{"core", "annulus", "edge"}
	scales           = []string{"VPDB", "VSMOW"}
	regions          = []string{"core", "edge", "transect"}
	quantities       = []string{"length", "weight"}
	forms            = []string{"linear", "power", "shifted_square", "log_linear"}
	measures         = append(append([]string{}, record.LengthKindWords()...), record.WeightFormWords()...)
)

// above is the least number that is more than zero.
const above = math.SmallestNonzeroFloat64

// The most that is believed of anything: what is larger is a slip of the pen, and sums
// and powers of it could leave the numbers altogether.
const (
	mostFish = 1e12 // fish of a catch, or their kg
	mostSize = 1e7  // length or weight of a fish, in any unit
	mostCV   = 1000 // of 1, so that one in per cent is told as such
)

// The scales that a picture of an ear stone may have, in µm per pixel: light parts nothing
// finer than 0.2 µm, and a stone is a few mm long.
const finestScale, coarsestScale = 0.01, 1000

var (
	inf    = math.Inf(1)
	lowest = math.Inf(-1)
)

var areas = table[record.Area]{
	name: "areas",
	columns: []column[record.Area]{
		text("area", needed, func(r *record.Area) *string { return &r.Area }),
		text("name", optional, func(r *record.Area) *string { return &r.Name }),
		text("parent", optional, func(r *record.Area) *string { return &r.Parent }),
		outlined("geometry", func(r *record.Area) *string { return &r.Geometry }),
		text("public_name", optional, func(r *record.Area) *string { return &r.PublicName }),
	},
	row:   func(r *record.Area) *int { return &r.Row },
	extra: func(r *record.Area) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Area { return &b.Areas },
}

var contributors = table[record.Contributor]{
	name: "contributors",
	columns: []column[record.Contributor]{
		text("contributor", needed, func(r *record.Contributor) *string { return &r.Contributor }),
		word("kind", optional, contributorKinds, func(r *record.Contributor) *string { return &r.Kind }),
		text("language", optional, func(r *record.Contributor) *string { return &r.Language }),
		truth("contact_consent", func(r *record.Contributor) *record.Truth { return &r.ContactConsent }),
		truth("publish_consent", func(r *record.Contributor) *record.Truth { return &r.PublishConsent }),
	},
	row:   func(r *record.Contributor) *int { return &r.Row },
	extra: func(r *record.Contributor) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Contributor { return &b.Contributors },
}

var trips = table[record.Trip]{
	name: "trips",
	columns: []column[record.Trip]{
		text("trip", needed, func(r *record.Trip) *record.TripID { return &r.Trip }),
		day("landed_on", needed, func(r *record.Trip) *date.Day { return &r.LandedOn }),
		text("area", optional, func(r *record.Trip) *string { return &r.Area }),
		text("gear", optional, func(r *record.Trip) *string { return &r.Gear }),
		text("port", optional, func(r *record.Trip) *string { return &r.Port }),
		counted("landed_number", optional, func(r *record.Trip) *record.Number { return &r.LandedNumber }),
		number("landed_kg", optional, 0, mostFish, func(r *record.Trip) *record.Number { return &r.LandedKg }),
		text("contributor", optional, func(r *record.Trip) *string { return &r.Contributor }),
	},
	row:   func(r *record.Trip) *int { return &r.Row },
	extra: func(r *record.Trip) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Trip { return &b.Trips },
}

var lengths = table[record.LengthCount]{
	name: "lengths",
	columns: []column[record.LengthCount]{
		text("trip", needed, func(r *record.LengthCount) *record.TripID { return &r.Trip }),
		text("species", needed, func(r *record.LengthCount) *record.Species { return &r.Species }),
		set("sex", optional, record.ParseSex, record.SexWords(), func(r *record.LengthCount) *record.Sex { return &r.Sex }),
		number("length", needed, above, mostSize, func(r *record.LengthCount) *record.Number { return &r.Length.Value }),
		word("unit", needed, lengthUnits, func(r *record.LengthCount) *string { return &r.Length.Unit }),
		set("kind", needed, record.ParseLengthKind, record.LengthKindWords(), func(r *record.LengthCount) *record.LengthKind { return &r.Length.Kind }),
		number("resolution", optional, above, mostSize, func(r *record.LengthCount) *record.Number { return &r.Length.Resolution }),
		countedAlways("count", func(r *record.LengthCount) *float64 { return &r.Count }),
	},
	row:   func(r *record.LengthCount) *int { return &r.Row },
	extra: func(r *record.LengthCount) *record.Extra { return &r.Extra },
}

var catch = table[record.Catch]{
	name: "catch",
	columns: []column[record.Catch]{
		count("year", 1, 9999, func(r *record.Catch) *int { return &r.Year }),
		whole("quarter", optional, 1, 4, 0, func(r *record.Catch) *int { return &r.Quarter }),
		whole("month", optional, 1, 12, 0, func(r *record.Catch) *int { return &r.Month }),
		text("area", optional, func(r *record.Catch) *string { return &r.Area }),
		text("gear", optional, func(r *record.Catch) *string { return &r.Gear }),
		text("species", needed, func(r *record.Catch) *record.Species { return &r.Species }),
		counted("number", optional, func(r *record.Catch) *record.Number { return &r.Number }),
		number("weight_kg", optional, 0, mostFish, func(r *record.Catch) *record.Number { return &r.WeightKg }),
		number("cv", optional, 0, mostCV, func(r *record.Catch) *record.Number { return &r.CV }),
	},
	row:   func(r *record.Catch) *int { return &r.Row },
	extra: func(r *record.Catch) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Catch { return &b.Catches },
}

var fish = table[record.Fish]{
	name: "fish",
	columns: []column[record.Fish]{
		text("fish", needed, func(r *record.Fish) *record.FishID { return &r.Fish }),
		text("species", needed, func(r *record.Fish) *record.Species { return &r.Species }),
		day("caught_on", wanted, func(r *record.Fish) *date.Day { return &r.CaughtOn }),
		text("area", optional, func(r *record.Fish) *string { return &r.Area }),
		text("gear", optional, func(r *record.Fish) *string { return &r.Gear }),
		text("trip", optional, func(r *record.Fish) *record.TripID { return &r.Trip }),
		text("contributor", optional, func(r *record.Fish) *string { return &r.Contributor }),
		number("length", wanted, above, mostSize, func(r *record.Fish) *record.Number { return &r.Length.Value }),
		word("length_unit", wanted, lengthUnits, func(r *record.Fish) *string { return &r.Length.Unit }),
		set("length_kind", wanted, record.ParseLengthKind, record.LengthKindWords(), func(r *record.Fish) *record.LengthKind { return &r.Length.Kind }),
		number("length_resolution", optional, above, mostSize, func(r *record.Fish) *record.Number { return &r.Length.Resolution }),
		number("weight", optional, above, mostSize, func(r *record.Fish) *record.Number { return &r.Weight }),
		word("weight_unit", optional, weightUnits, func(r *record.Fish) *string { return &r.WeightUnit }),
		set("weight_form", optional, record.ParseWeightForm, record.WeightFormWords(), func(r *record.Fish) *record.WeightForm { return &r.WeightForm }),
		set("sex", optional, record.ParseSex, record.SexWords(), func(r *record.Fish) *record.Sex { return &r.Sex }),
		day("received_on", optional, func(r *record.Fish) *date.Day { return &r.ReceivedOn }),
		text("remark", optional, func(r *record.Fish) *string { return &r.Remark }),
	},
	row:    func(r *record.Fish) *int { return &r.Row },
	extra:  func(r *record.Fish) *record.Extra { return &r.Extra },
	within: fishWithin,
	of:     func(b *record.Book) *[]record.Fish { return &b.Fish },
}

// fishWithin asks for the unit and the kind of what was measured: without them a number
// is no length and no weight.
func fishWithin(p *page, f *record.Fish) {
	if p.wrong { // a refused unit was told already
		return
	}
	p.require(f.Length.Value.Known && f.Length.Unit == "", "length_unit")
	p.require(f.Length.Value.Known && f.Length.Kind == record.LengthKindUnknown, "length_kind")
	p.require(f.Weight.Known && f.WeightUnit == "", "weight_unit")
	p.require(f.Weight.Known && f.WeightForm == record.WeightFormUnknown, "weight_form")
}

func (p *page) require(missing bool, column string) {
	if missing {
		p.column = column
		p.add(finding.Needed, nil)
	}
}
