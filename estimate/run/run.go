// Package run is the whole chain: inputs by hash, settings and a seed in, results out.
//
// From readings to ages, from ages to agreement and ageing error, from these to a key,
// from key and lengths to the catch at age, beside it growth, mortality and nursery of
// origin, and all of it again a thousand times. It reads no file and knows no clock: the
// source of records and the clock come in.
package run

import (
	"context"
	"fmt"
	"slices"
	"time"

	"earstone/estimate/resample"
	"earstone/estimate/tally"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/reading/age"
	"earstone/reading/agreement"
)

// Part is a part of the job that can be asked for on its own.
type Part string

// The parts. Each brings those that it rests on.
const (
	Agreement Part = "agreement"
	Key       Part = "key"
	Catch     Part = "catch"
	Growth    Part = "growth"
	Mortality Part = "mortality"
	Origin    Part = "origin"
	Budget    Part = "budget"
	Advice    Part = "advice"
)

// Parts are all parts in the order in which they are made.
func Parts() []Part { return []Part{Agreement, Key, Catch, Growth, Mortality, Origin, Budget, Advice} }

// Options of a run. The zero value runs every part with 1,000 replicates.
type Options struct {
	Only       []Part // nil: all
	Replicates int    // 0: 1,000
	Seed       uint64
	Workers    int     // 0: all cores
	Level      float64 // of intervals; 0: 0.95
	Key        string  // overrules the form in the settings: agreed_direct, true_smoothed ...; empty: the programme's
	Given      Given   // what Advice takes for granted
	Influence  bool    // find what each trip and stone does: what a plan is made from

	Clock    func() time.Time // for the timings; nil: none are kept
	Progress func(stage string, done, of int)
}

func (o Options) wants(p Part) bool {
	for _, only := range o.Only {
		if only == p {
			return true
		}
	}
	return len(o.Only) == 0
}

func (o Options) wantsAny(parts ...Part) bool { return slices.ContainsFunc(parts, o.wants) }

// Converter is what the chain needs to know of conversions; programme/measure gives it.
type Converter = tally.Converter

// Run estimates a programme. The book must have been read and checked; findings that the
// chain itself comes upon stand in the outcome; where one of them is an error it ends before
// it estimates. An error is a cancelled context or a source that could not be read: what
// can't be estimated is told in the outcome.
func Run(ctx context.Context, source record.Source, convert Converter, o Options) (*Outcome, error) {
	c, err := begin(ctx, source, convert, o)
	if err != nil {
		return nil, err
	}
	if c.outcome.Found.Of(finding.Error) > 0 { // no estimate may rest on what can't be used
		return c.outcome, nil
	}
	if o.wants(Origin) {
		c.assays()
	}
	for _, s := range c.outcome.Species {
		if err := c.species(s); err != nil {
			return nil, err
		}
	}
	return c.outcome, nil
}

// Look goes through a programme as Run does, but ends where estimating would begin: it
// tells all that can be told without an estimate.
func Look(ctx context.Context, source record.Source, convert Converter) (*finding.List, error) {
	c, err := begin(ctx, source, convert, Options{})
	if err != nil {
		return nil, err
	}
	return &c.outcome.Found, nil
}

// begin settles the ages and cuts the records into counts.
func begin(ctx context.Context, source record.Source, convert Converter, o Options) (*chain, error) {
	if o.Replicates == 0 {
		o.Replicates = 1000
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	c := &chain{ctx: ctx, convert: convert, options: o, outcome: &Outcome{Options: o}}
	if o.Clock != nil {
		c.since = o.Clock()
	}
	book, err := source.Book()
	if err != nil {
		return nil, fmt.Errorf("reading the programme: %w", err)
	}
	c.book = book
	c.outcome.Settings = book.Settings
	derived := c.deriveLengths()
	c.ages()
	c.keepDerived(derived)
	return c, c.count(source)
}

// chain is one run on its way.
type chain struct {
	ctx     context.Context
	convert Converter
	options Options
	book    *record.Book
	outcome *Outcome
	panel   age.Panel
	since   time.Time
}

// stage closes a stage of the work: its time goes into the outcome.
func (c *chain) stage(name string) {
	if c.options.Clock == nil {
		return
	}
	now := c.options.Clock()
	c.outcome.Stages = append(c.outcome.Stages, Stage{name, now.Sub(c.since).Seconds()})
	c.since = now
}

func (c *chain) progress(stage string) func(done, of int) {
	if c.options.Progress == nil {
		return nil
	}
	return func(done, of int) { c.options.Progress(stage, done, of) }
}

// ages settles the age of every fish.
func (c *chain) ages() {
	rules, found := age.NewRules(c.book.Settings, c.book.Readings)
	for _, f := range found {
		c.outcome.Found.Keep(f)
	}
	c.outcome.Readers, c.panel = rules.Readers, rules.Panel
	results := rules.Each(c.book.Fish, c.book.Readings, c.book.KnownAges)
	at := map[record.Species]*Species{}
	for _, code := range c.book.Settings.Species {
		s := &Species{Species: code}
		at[code] = s
		c.outcome.Species = append(c.outcome.Species, s)
	}
	for i := range results {
		fish := &c.book.Fish[i]
		if s := at[fish.Species]; s != nil {
			s.Ages = append(s.Ages, FishAge{fish, results[i]})
		}
		results[i].Findings(&c.outcome.Found, fish, c.book.Readings)
	}
	c.stage("ages")
}

// count cuts the records into counts, species by species.
func (c *chain) count(source record.Source) error {
	aged := map[record.Species][]tally.AgedFish{}
	for _, s := range c.outcome.Species {
		for i := range s.Ages {
			if fish := variants(&s.Ages[i]); fish.Variants != nil {
				aged[s.Species] = append(aged[s.Species], fish)
			}
		}
	}
	counts, err := tally.Build(source, c.book, aged, c.outcome.Readers, c.convert)
	if err != nil {
		return err
	}
	for i, s := range c.outcome.Species {
		s.Counts = counts[i]
		c.outcome.Found.Join(&counts[i].Found)
	}
	c.stage("counts")
	return nil
}

// variants is what the counts need of a fish's age.
func variants(f *FishAge) tally.AgedFish {
	fish := tally.AgedFish{Fish: f.Fish}
	for _, v := range f.Variants {
		classes := make([]int16, len(v.Classes))
		for r, class := range v.Classes {
			classes[r] = int16(max(class, -1))
		}
		fish.Variants = append(fish.Variants, tally.Variant{Share: v.Share, Class: int(max(v.Class, -1)), Classes: classes})
	}
	return fish
}

func (c *chain) species(s *Species) error {
	if c.options.wants(Agreement) {
		report := agreement.For(s.Species, c.book.Settings.Calendars[s.Species], c.panel, c.book.Fish, c.book.Readings)
		s.Agreement = &report
		c.stage("agreement")
	}
	if ofTrueAges(c.form()) || c.options.wants(Agreement) {
		c.readers(s)
	}
	if !c.options.wantsAny(Key, Catch, Growth, Mortality, Origin, Budget, Advice) {
		return nil
	}
	c.key(s)
	var beside []part
	if c.options.wants(Growth) {
		beside = append(beside, c.growth(s)...)
	}
	if c.options.wants(Origin) {
		beside = append(beside, c.origin(s)...)
	}
	if c.options.wants(Growth) { // after the nurseries, which are groups
		c.growthGroups(s)
		c.backCalculate(s)
	}
	if c.options.wants(Mortality) {
		defer c.natural(s)
	}
	catch := c.options.wantsAny(Catch, Mortality, Origin, Budget, Advice)
	if s.Key == nil || len(s.Counts.Cells) == 0 || s.Counts.Measured == 0 || !catch && beside == nil {
		return nil
	}
	v, err := c.replicate(s, beside)
	if err != nil {
		return err
	}
	if catch {
		v.places(s)
	}
	if c.options.wants(Mortality) {
		v.mortality(s)
	}
	for i, b := range beside {
		b.absorb(v, v.problem.At(i))
	}
	c.stage("intervals")
	if c.options.Influence {
		if err := c.influence(s, v); err != nil {
			return err
		}
	}
	if c.options.wants(Budget) {
		if err := c.budget(s, v); err != nil {
			return err
		}
	}
	if c.options.wants(Advice) {
		return c.advice(s, v)
	}
	return nil
}

// part is estimated beside the catch from the same draws, and takes its replicates in,
// which begin at a place in each row.
type part struct {
	resample.Beside
	absorb func(v *view, at int)
}
