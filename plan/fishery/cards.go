package fishery

import (
	"fmt"
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// writeFish writes the card of each picked fish, its stone and the section made of it,
// then the cards and stones of the fish that nobody reads.
func (f *Fishery) writeFish(book *record.Book, e *Season, b int) {
	draw, chips := f.stream(b, forCard, 0), f.stream(b, forStone, 0)
	n, all := len(e.picked), len(e.picked)+len(e.weighed)
	book.Fish = make([]record.Fish, all, all+f.settings.baselineFish())
	book.Stones = make([]record.Stone, all, cap(book.Fish)+len(e.assayed))
	book.Preparations = make([]record.Preparation, n)
	sections := codes("S", 6, n)
	of := &draw
	for i, code := range codes("QB", 6, all) {
		if i == n {
			draw = f.stream(b, forStone, 1)
		}
		x := e.ofCatch(i)
		cm := float64(x.cm) + float64(of.IntN(10))/10 // to the mm below
		card := f.card(of, x, cm)
		card.Fish = record.FishID(code)
		card.Row = i + 2
		card.Contributor = book.Contributors[of.IntN(contributors)].Contributor
		if x.trip >= 0 {
			card.Trip = book.Trips[x.trip].Trip
		}
		book.Fish[i] = card
		stone := record.Stone{Fish: card.Fish, Side: record.Left + record.Side(of.IntN(2)), Membrane: "off", Purpose: "age", Row: i + 2}
		f.weigh(&stone, &chips, f.mass(cm, x.age)*math.Exp(f.settings.MassSpread*of.Normal()))
		book.Stones[i] = stone
		if i >= n {
			book.Stones[i].Purpose = "archive"
			continue
		}
		book.Preparations[i] = record.Preparation{
			Preparation: sections[i], Fish: card.Fish, Side: stone.Side, Kind: "section",
			ThicknessUm: record.Some(400), MadeOn: bench(card.ReceivedOn), Row: i + 2,
		}
	}
}

// ofCatch is the i-th fish of the catch with a card.
func (e *Season) ofCatch(i int) *picked {
	if i < len(e.picked) {
		return &e.picked[i]
	}
	return &e.weighed[i-len(e.picked)]
}

// mass is the median mass in mg of the stones of fish of a length and age.
func (f *Fishery) mass(cm float64, age uint8) float64 {
	s := &f.settings
	return s.MassA * math.Pow(cm, s.MassByLength) * math.Pow(float64(age), s.MassByAge)
}

// weigh gives a stone its condition, and its mass where it is whole.
func (f *Fishery) weigh(stone *record.Stone, chips *stream.Stream, mg float64) {
	if chips.Float64() < f.settings.ChippedStones {
		stone.Condition = "chipped"
		return
	}
	stone.Condition, stone.MassMg = "whole", record.Some(tenths(mg))
}

// writeKnownAges tells the age of as many aged fish as KnownAges, each as likely as
// another: fish released young, whose year of birth is on their tag.
func (f *Fishery) writeKnownAges(book *record.Book, e *Season, b int) {
	draw, left := f.stream(b, forKnown, 0), f.settings.KnownAges
	for i := range e.picked {
		if draw.IntN(len(e.picked)-i) >= left {
			continue
		}
		left--
		x := &e.picked[i]
		birth := f.settings.Calendar.BirthDay.In(f.settings.yearClass(f.cohort(x)))
		age := float64(int(x.day)-birth.Serial()) / 365.25
		book.KnownAges = append(book.KnownAges, record.KnownAge{
			Fish: book.Fish[i].Fish, DecimalAge: math.Round(100*age) / 100, Basis: "released young", Row: len(book.KnownAges) + 2})
	}
}

// bench is the day on which the season's stones are cut: 1 March of the year after the
// last heads of a year come in, or after what comes in later still.
func bench(received date.Day) date.Day {
	cut := date.On(received.Year(), 3, 1)
	if cut.Before(received) {
		cut = date.On(received.Year()+1, 3, 1)
	}
	return cut
}

// card is what is known of one fish; x.day becomes the day of its catch.
func (f *Fishery) card(draw *stream.Stream, x *picked, cm float64) record.Fish {
	s, st := &f.settings, &f.strata[x.stratum]
	landed := int(x.day)
	start, _ := quarterOf(int(st.cell.Year), int(st.cell.Quarter)-1)
	x.day = int32(max(landed-draw.IntN(4), start))
	weight := s.WeightA * math.Pow(cm, s.WeightB) * math.Exp(s.WeightSpread*draw.Normal())
	card := record.Fish{
		Species: species, CaughtOn: date.FromSerial(int(x.day)), Area: st.cell.Area, Gear: st.cell.Gear,
		Length: record.Length{Value: record.Some(cm), Unit: "cm", Kind: record.StraightFork, Resolution: record.Some(0.1)},
		Weight: record.Some(tenths(weight)), WeightUnit: "kg", WeightForm: record.Round,
		Sex:        record.Female + record.Sex(draw.IntN(2)),
		ReceivedOn: date.FromSerial(landed + 3 + draw.IntN(40)),
	}
	if draw.Float64() < s.MixedKinds {
		// Straight length is a + b·curved and a residual. Turned round like this the residual
		// belongs to the straight length as long as curved lengths lie evenly within a few cm.
		curved := (cm - curvedA + curvedSD*draw.Normal()) / curvedB
		card.Length.Value, card.Length.Kind = record.Some(tenths(curved)), record.CurvedFork
	}
	if draw.Float64() < s.PartialDates {
		card.CaughtOn = vague(card.CaughtOn, draw.IntN(4) == 0)
	}
	return card
}

// vague is a date known to the year, or to the month.
func vague(day date.Day, toYear bool) date.Day {
	text := fmt.Sprintf("%04d-%02d", day.Year(), day.Month())
	if toYear {
		text = text[:4]
	}
	out, ok := date.Parse(text)
	if !ok {
		panic("fishery: " + text + " is no date")
	}
	return out
}

// tenths rounds to one decimal, away from nothing: no measured value is 0.
func tenths(x float64) float64 { return max(math.Round(10*x), 1) / 10 }
