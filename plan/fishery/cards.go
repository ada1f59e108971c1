package fishery

import (
	"fmt"
	"math"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/statistics/stream"
)

// writeFish writes the card of each picked fish, its stone and the section made of it.
func (f *Fishery) writeFish(book *record.Book, e *Season, b int) {
	draw := f.stream(b, forCard, 0)
	n := len(e.picked)
	book.Fish = make([]record.Fish, n)
	book.Stones = make([]record.Stone, n)
	book.Preparations = make([]record.Preparation, n)
	sections := codes("S", 6, n)
	for i, code := range codes("QB", 6, n) {
		x := &e.picked[i]
		cm := float64(x.cm) + float64(draw.IntN(10))/10 // to the mm below
		card := f.card(&draw, x, cm)
		card.Fish = record.FishID(code)
		card.Row = i + 2
		card.Contributor = book.Contributors[draw.IntN(contributors)].Contributor
		if x.trip >= 0 {
			card.Trip = book.Trips[x.trip].Trip
		}
		book.Fish[i] = card
		side := record.Left + record.Side(draw.IntN(2))
		mass := 0.9 * math.Pow(cm, 0.8) * math.Pow(float64(x.age), 0.25) * math.Exp(0.05*draw.Normal())
		book.Stones[i] = record.Stone{
			Fish: card.Fish, Side: side, Condition: "whole", Membrane: "off",
			MassMg: record.Some(tenths(mass)), Purpose: "age", Row: i + 2,
		}
		book.Preparations[i] = record.Preparation{
			Preparation: sections[i], Fish: card.Fish, Side: side, Kind: "section",
			ThicknessUm: record.Some(400), MadeOn: bench(card.ReceivedOn), Row: i + 2,
		}
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
