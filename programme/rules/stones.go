package rules

import (
	"math"
	"strconv"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// The ratio of the masses of two whole stones of one fish, either way round.
const (
	lowestRatio  = 0.8
	highestRatio = 1.25
)

func (c *check) stoneTable() {
	type of struct {
		fish record.FishID
		side record.Side
	}
	first := map[of]int{}
	for i, s := range c.book.Stones {
		c.referFish(stonesFile, s.Row, s.Fish)
		c.positive(stonesFile, s.Row, "mass_mg", s.MassMg)
		key := of{s.Fish, s.Side}
		if at, twice := first[key]; twice && s.Side != record.SideUnknown && s.Fish != "" {
			c.add(finding.TwiceID, stonesFile, s.Row, "side", s.Side.String(), strconv.Itoa(c.book.Stones[at].Row))
			continue
		}
		first[key] = i
		other := of{s.Fish, map[record.Side]record.Side{record.Left: record.Right, record.Right: record.Left}[s.Side]}
		if at, there := first[other]; there && s.Side != record.SideUnknown {
			c.twoStones(s, c.book.Stones[at])
		}
	}
	c.masses()
}

// twoStones holds the masses of the two whole stones of a fish against each other.
func (c *check) twoStones(one, other record.Stone) {
	if !weighedWhole(one) || !weighedWhole(other) {
		return
	}
	ratio := other.MassMg.X / one.MassMg.X
	if one.Side == record.Left {
		ratio = 1 / ratio
	}
	if ratio < lowestRatio || ratio > highestRatio {
		c.add(finding.Implausible, stonesFile, one.Row, "mass_mg", text(one.MassMg.X), "other_stone", rounded(ratio))
	}
}

// weighedWhole is a stone whose mass says something about its fish.
func weighedWhole(s record.Stone) bool {
	return s.MassMg.Known && s.MassMg.X > 0 && (s.Condition == "whole" || s.Condition == "")
}

// masses holds each stone against the length of its fish, among fish of one species
// that were measured alike.
func (c *check) masses() {
	type alike struct {
		species record.Species
		kind    record.LengthKind
	}
	groups, order := map[alike][]pair{}, []alike(nil)
	for i, s := range c.book.Stones {
		at, known := c.fish[s.Fish]
		if !known || !weighedWhole(s) {
			continue
		}
		f := c.book.Fish[at.at]
		cm, measured := inCm(f.Length)
		if !measured {
			continue
		}
		key := alike{f.Species, f.Length.Kind}
		if groups[key] == nil {
			order = append(order, key)
		}
		groups[key] = append(groups[key], pair{x: math.Log(cm), y: math.Log(s.MassMg.X), at: i})
	}
	for _, key := range order {
		if l, ok := throughMiddle(groups[key]); ok {
			c.offLine(l, groups[key])
		}
	}
}

func (c *check) offLine(l line, pairs []pair) {
	for _, p := range pairs {
		s := c.book.Stones[p.at]
		f := c.book.Fish[c.fish[s.Fish].at]
		c.far(l, p, f, stonesFile, s.Row, "mass_mg", text(s.MassMg.X), "length")
	}
}
