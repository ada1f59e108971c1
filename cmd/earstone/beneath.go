package main

import (
	"slices"
	"strconv"

	"earstone/estimate/run"
	"earstone/programme/record"
	"earstone/programme/strata"
	"earstone/store/tables"
)

// The tables that open a number of the catch at age onto what lies beneath it.
var (
	beneathFish  = slices.Concat([]string{"species"}, strata.Columns(), []string{"age", "fish", "trip", "length", "length_unit", "length_kind", "rule"})
	beneathTrips = slices.Concat([]string{"species"}, strata.Columns(), []string{"trip", "measured", "aged"})
)

// writeBeneath writes which aged fish and which sampled trips lie where: a fish counts
// where its trip landed, one of no trip where and when it was caught.
func (r *results) writeBeneath(to tables.Folder) error {
	err := to.WriteTable("beneath_fish.csv", beneathFish, func(w *tables.Writer) error {
		for _, s := range r.outcome.Species {
			at := map[record.TripID]strata.Cell{}
			for i := range s.Counts.Trips {
				at[s.Counts.Trips[i].ID] = s.Counts.Trips[i].Cell
			}
			for i := range s.Ages {
				writeFishBeneath(w, &s.Ages[i], at)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return to.WriteTable("beneath_trips.csv", beneathTrips, func(w *tables.Writer) error {
		for _, s := range r.outcome.Species {
			for i := range s.Counts.Trips {
				t := &s.Counts.Trips[i]
				writeCell(w, s.Species, t.Cell)
				w.Text(string(t.ID))
				w.Float(t.Measured)
				w.Float(t.Aged)
				w.EndRow()
			}
		}
		return nil
	})
}

// writeFishBeneath passes over a fish whose age is open.
func writeFishBeneath(w *tables.Writer, f *run.FishAge, at map[record.TripID]strata.Cell) {
	if !f.Class.Known() {
		return
	}
	cell, sampled := at[f.Fish.Trip]
	if !sampled {
		cell = strata.At(f.Fish.CaughtOn, f.Fish.Area, f.Fish.Gear)
	}
	writeCell(w, f.Fish.Species, cell)
	w.Text(strconv.Itoa(int(f.Class)))
	w.Text(string(f.Fish.Fish))
	w.Text(string(f.Fish.Trip))
	w.Number(f.Fish.Length.Value)
	w.Text(f.Fish.Length.Unit)
	w.Text(f.Fish.Length.Kind.String())
	w.Text(f.Rule)
	w.EndRow()
}

func writeCell(w *tables.Writer, species record.Species, cell strata.Cell) {
	w.Text(string(species))
	for _, text := range cell.Texts() {
		w.Text(text)
	}
}
