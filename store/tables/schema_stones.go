package tables

import (
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
)

var stones = table[record.Stone]{
	name: "stones",
	columns: []column[record.Stone]{
		text("fish", needed, func(r *record.Stone) *record.FishID { return &r.Fish }),
		set("side", wanted, record.ParseSide, record.SideWords(), func(r *record.Stone) *record.Side { return &r.Side }),
		word("condition", optional, conditions, func(r *record.Stone) *string { return &r.Condition }),
		word("membrane", optional, membranes, func(r *record.Stone) *string { return &r.Membrane }),
		number("mass_mg", optional, above, inf, func(r *record.Stone) *record.Number { return &r.MassMg }),
		word("purpose", optional, purposes, func(r *record.Stone) *string { return &r.Purpose }),
		text("place", optional, func(r *record.Stone) *string { return &r.Place }),
	},
	row:   func(r *record.Stone) *int { return &r.Row },
	extra: func(r *record.Stone) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Stone { return &b.Stones },
}

var preparations = table[record.Preparation]{
	name: "preparations",
	columns: []column[record.Preparation]{
		text("preparation", needed, func(r *record.Preparation) *string { return &r.Preparation }),
		text("fish", needed, func(r *record.Preparation) *record.FishID { return &r.Fish }),
		set("side", optional, record.ParseSide, record.SideWords(), func(r *record.Preparation) *record.Side { return &r.Side }),
		text("kind", optional, func(r *record.Preparation) *string { return &r.Kind }),
		number("thickness_um", optional, above, inf, func(r *record.Preparation) *record.Number { return &r.ThicknessUm }),
		day("made_on", optional, func(r *record.Preparation) *date.Day { return &r.MadeOn }),
		text("made_by", optional, func(r *record.Preparation) *string { return &r.MadeBy }),
	},
	row:   func(r *record.Preparation) *int { return &r.Row },
	extra: func(r *record.Preparation) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Preparation { return &b.Preparations },
}

var images = table[record.Image]{
	name: "images",
	columns: []column[record.Image]{
		text("image", needed, func(r *record.Image) *string { return &r.Image }),
		text("preparation", needed, func(r *record.Image) *string { return &r.Preparation }),
		text("file", wanted, func(r *record.Image) *string { return &r.File }),
		text("sha256", optional, func(r *record.Image) *string { return &r.SHA256 }),
		number("um_per_pixel", optional, finestScale, coarsestScale, func(r *record.Image) *record.Number { return &r.UmPerPixel }),
		day("taken_on", optional, func(r *record.Image) *date.Day { return &r.TakenOn }),
		text("light", optional, func(r *record.Image) *string { return &r.Light }),
	},
	row:   func(r *record.Image) *int { return &r.Row },
	extra: func(r *record.Image) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Image { return &b.Images },
}

// mostAnnuli is more than any tuna has laid down.
const mostAnnuli = 100

var readings = table[record.Reading]{
	name: "readings",
	columns: []column[record.Reading]{
		text("reading", needed, func(r *record.Reading) *string { return &r.Reading }),
		text("fish", needed, func(r *record.Reading) *record.FishID { return &r.Fish }),
		set("side", optional, record.ParseSide, record.SideWords(), func(r *record.Reading) *record.Side { return &r.Side }),
		text("preparation", optional, func(r *record.Reading) *string { return &r.Preparation }),
		text("image", optional, func(r *record.Reading) *string { return &r.Image }),
		text("reader", needed, func(r *record.Reading) *record.ReaderID { return &r.Reader }),
		day("read_at", wanted, func(r *record.Reading) *date.Day { return &r.ReadAt }),
		text("session", optional, func(r *record.Reading) *string { return &r.Session }),
		truth("blind", func(r *record.Reading) *record.Truth { return &r.Blind }),
		whole("annuli", wanted, 0, mostAnnuli, -1, func(r *record.Reading) *int { return &r.Annuli }),
		set("edge", optional, record.ParseEdge, record.EdgeWords(), func(r *record.Reading) *record.Edge { return &r.Edge }),
		whole("readability", optional, 1, 5, 0, func(r *record.Reading) *int { return &r.Readability }),
		truth("control", func(r *record.Reading) *record.Truth { return &r.Control }),
		text("remark", optional, func(r *record.Reading) *string { return &r.Remark }),
	},
	row:   func(r *record.Reading) *int { return &r.Row },
	extra: func(r *record.Reading) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Reading { return &b.Readings },
}

var marks = table[record.Mark]{
	name: "marks",
	columns: []column[record.Mark]{
		text("reading", needed, func(r *record.Mark) *string { return &r.Reading }),
		count("order", 0, math.MaxInt32, func(r *record.Mark) *int { return &r.Order }),
		word("kind", needed, markKinds, func(r *record.Mark) *string { return &r.Kind }),
		number("x_px", optional, lowest, inf, func(r *record.Mark) *record.Number { return &r.XPx }),
		number("y_px", optional, lowest, inf, func(r *record.Mark) *record.Number { return &r.YPx }),
		number("distance_um", optional, 0, inf, func(r *record.Mark) *record.Number { return &r.DistanceUm }),
	},
	row:   func(r *record.Mark) *int { return &r.Row },
	extra: func(r *record.Mark) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Mark { return &b.Marks },
}

var knownAges = table[record.KnownAge]{
	name: "known_ages",
	columns: []column[record.KnownAge]{
		text("fish", needed, func(r *record.KnownAge) *record.FishID { return &r.Fish }),
		float("decimal_age", 0, mostAnnuli, func(r *record.KnownAge) *float64 { return &r.DecimalAge }),
		text("basis", optional, func(r *record.KnownAge) *string { return &r.Basis }),
		number("sd", optional, 0, inf, func(r *record.KnownAge) *record.Number { return &r.SD }),
	},
	row:   func(r *record.KnownAge) *int { return &r.Row },
	extra: func(r *record.KnownAge) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.KnownAge { return &b.KnownAges },
}

var assays = table[record.Assay]{
	name: "assays",
	columns: []column[record.Assay]{
		text("fish", needed, func(r *record.Assay) *record.FishID { return &r.Fish }),
		set("side", optional, record.ParseSide, record.SideWords(), func(r *record.Assay) *record.Side { return &r.Side }),
		text("tracer", needed, func(r *record.Assay) *string { return &r.Tracer }),
		number("value", wanted, lowest, inf, func(r *record.Assay) *record.Number { return &r.Value }),
		text("unit", optional, func(r *record.Assay) *string { return &r.Unit }),
		number("sd", optional, 0, inf, func(r *record.Assay) *record.Number { return &r.SD }),
		word("scale", optional, scales, func(r *record.Assay) *string { return &r.Scale }),
		text("run", optional, func(r *record.Assay) *string { return &r.Run }),
		word("region", optional, regions, func(r *record.Assay) *string { return &r.Region }),
	},
	row:   func(r *record.Assay) *int { return &r.Row },
	extra: func(r *record.Assay) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Assay { return &b.Assays },
}

var standards = table[record.ReferenceAssay]{
	name: "standards",
	columns: []column[record.ReferenceAssay]{
		text("run", needed, func(r *record.ReferenceAssay) *string { return &r.Run }),
		text("material", needed, func(r *record.ReferenceAssay) *string { return &r.Material }),
		text("tracer", needed, func(r *record.ReferenceAssay) *string { return &r.Tracer }),
		number("value", wanted, lowest, inf, func(r *record.ReferenceAssay) *record.Number { return &r.Value }),
		text("unit", optional, func(r *record.ReferenceAssay) *string { return &r.Unit }),
		number("expected", wanted, lowest, inf, func(r *record.ReferenceAssay) *record.Number { return &r.Expected }),
	},
	row:   func(r *record.ReferenceAssay) *int { return &r.Row },
	extra: func(r *record.ReferenceAssay) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.ReferenceAssay { return &b.Standards },
}

var baseline = table[record.Baseline]{
	name: "baseline",
	columns: []column[record.Baseline]{
		text("fish", needed, func(r *record.Baseline) *record.FishID { return &r.Fish }),
		text("nursery", needed, func(r *record.Baseline) *string { return &r.Nursery }),
		whole("year_class", wanted, 1, 9999, 0, func(r *record.Baseline) *int { return &r.YearClass }),
	},
	row:   func(r *record.Baseline) *int { return &r.Row },
	extra: func(r *record.Baseline) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Baseline { return &b.Baseline },
}

// mostParameter bounds what an equation between two sizes of a fish is made of.
const mostParameter = 1e6

var conversions = table[record.Conversion]{
	name: "conversions",
	columns: []column[record.Conversion]{
		text("species", needed, func(r *record.Conversion) *record.Species { return &r.Species }),
		word("quantity", needed, quantities, func(r *record.Conversion) *string { return &r.Quantity }),
		word("from", needed, measures, func(r *record.Conversion) *string { return &r.From }),
		word("to", needed, measures, func(r *record.Conversion) *string { return &r.To }),
		word("form", needed, forms, func(r *record.Conversion) *string { return &r.Form }),
		float("a", -mostParameter, mostParameter, func(r *record.Conversion) *float64 { return &r.A }),
		float("b", -mostParameter, mostParameter, func(r *record.Conversion) *float64 { return &r.B }),
		number("sd", optional, 0, mostParameter, func(r *record.Conversion) *record.Number { return &r.SD }),
		number("low", optional, 0, mostSize, func(r *record.Conversion) *record.Number { return &r.Low }),
		number("high", optional, 0, mostSize, func(r *record.Conversion) *record.Number { return &r.High }),
		text("unit", optional, func(r *record.Conversion) *string { return &r.Unit }),
		text("source", optional, func(r *record.Conversion) *string { return &r.Source }),
		text("status", optional, func(r *record.Conversion) *string { return &r.Status }),
	},
	row:   func(r *record.Conversion) *int { return &r.Row },
	extra: func(r *record.Conversion) *record.Extra { return &r.Extra },
	of:    func(b *record.Book) *[]record.Conversion { return &b.Conversions },
}
