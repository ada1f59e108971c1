package run

import (
	"fmt"
	"slices"
	"strings"

	"earstone/estimate/key"
	"earstone/estimate/resample"
)

// The forms of key: of agreed ages, or of true ages, from which the readers' error has
// been taken; direct, or smoothed over length; of agreed ages also with what other years
// tell of years without ages.
const (
	AgreedDirect   = "agreed_direct"
	AgreedSmoothed = "agreed_smoothed"
	AgreedIterated = "agreed_iterated"
	AgreedCombined = "agreed_combined"
	TrueDirect     = "true_direct"
	TrueSmoothed   = "true_smoothed"
)

// Forms are the forms of key that a run can be asked for.
func Forms() []string {
	return []string{AgreedDirect, AgreedSmoothed, AgreedIterated, AgreedCombined, TrueDirect, TrueSmoothed}
}

// form is the key's form: the option's, or the programme's.
func (c *chain) form() string {
	if c.options.Key != "" {
		return c.options.Key
	}
	ages := "agreed_"
	if c.book.Settings.Key.AgeingError {
		ages = "true_"
	}
	return ages + c.book.Settings.Key.Form
}

func ofTrueAges(form string) bool { return form == TrueDirect || form == TrueSmoothed }

func smoothed(form string) bool { return form == AgreedSmoothed || form == TrueSmoothed }

// agreedOf is the form of agreed ages that stands in for one of true ages.
func agreedOf(form string) string { return "agreed_" + strings.TrimPrefix(form, "true_") }

// unheard tells that a form is of true ages and of other years at once, which there is not.
func unheard(form string) bool {
	return form != agreedOf(form) && !ofTrueAges(form) && slices.Contains(Forms(), agreedOf(form))
}

// key fits the chosen form to the season as it is and says what it rests on. Without
// second readings the error of the readers is not known, and a key of agreed ages stands
// in for one of true ages; so does it for keys from other years, which there are of agreed
// ages only.
func (c *chain) key(s *Species) {
	form, inPlace := c.form(), ""
	if unheard(form) {
		form, inPlace = agreedOf(form), form
	}
	if !slices.Contains(Forms(), form) {
		s.NoKey = fmt.Errorf("there is no key of the form %q", form)
		return
	}
	if ofTrueAges(form) && s.Errors == nil {
		form, inPlace = agreedOf(form), form
	}
	if s.Counts.Bins.N == 0 { // no fish has a length: there is no grid for a key to live on
		s.NoKey = &key.Trouble{Reason: key.NoAges}
		return
	}
	found := &KeyFound{Form: form, InPlace: inPlace}
	if smoothed(form) || c.options.wants(Key) {
		c.score(s, found)
	}
	worker, err := c.worker(s, form, found.Smoothing)
	if err != nil {
		s.NoKey = err
		return
	}
	d := &s.Counts.Design
	found.Q, found.From, found.Used = make([]float64, d.KeyStrata*d.Bins*d.Ages), make([]key.Source, d.KeyStrata*d.Bins), make([]float64, d.KeyStrata*d.Bins)
	found.Told = worker.Fit(found.Q, found.From, s.Counts.Key.Weights(), c.matrices(s, form))
	worker.Used(found.Used)
	found.cells = keyCells(worker, d, found.Used)
	s.Key = found
	c.rebuilt(s, worker)
	c.rests(s)
	c.stage("key")
	if c.options.wants(Key) {
		c.areas(s)
		c.weighed(s)
	}
}

// rests says which share of the catch has a key of its own, a borrowed one, or none.
func (c *chain) rests(s *Species) {
	d := &s.Counts.Design
	p, total := make([]float64, d.Bins), 0.0
	for i := range d.Strata {
		if !d.LengthShares(p, i, nil) {
			continue
		}
		number := d.Number(i, p)
		total += number
		for l, share := range p {
			switch from := s.Key.From[d.Strata[i].Key*d.Bins+l]; {
			case from == key.NoKey:
				s.Key.Rests.Unaged += number * share
			case from.Own():
				s.Key.Rests.Own += number * share
			default:
				s.Key.Rests.Borrowed += number * share
			}
		}
	}
	if total > 0 {
		s.Key.Rests.Own /= total
		s.Key.Rests.Borrowed /= total
		s.Key.Rests.Unaged /= total
	}
}

// matrices are the fitted error matrices of a form of true ages; nil for agreed ages.
func (c *chain) matrices(s *Species, form string) [][]float64 {
	if !ofTrueAges(form) {
		return nil
	}
	var all [][]float64
	for r := range s.Errors.Models {
		all = append(all, s.Errors.MatrixOf(r, s.Counts.Design.Ages))
	}
	return all
}

// worker makes a worker of a form, fitted to the season as it is.
func (c *chain) worker(s *Species, form string, smoothing key.Smoothing) (key.Worker, error) {
	switch sample, readers := s.Counts.Key, c.matrices(s, form); form {
	case AgreedDirect:
		return orNil(key.NewDirect(sample, c.borrowing()))
	case AgreedSmoothed:
		return orNil(key.NewSmooth(sample, smoothing))
	case AgreedIterated:
		return orNil(key.NewIterated(sample, c.borrowing(), years(s.Counts)))
	case AgreedCombined:
		return orNil(key.NewCombined(sample, c.borrowing(), years(s.Counts)))
	case TrueDirect:
		return orNil(key.NewTrue(sample, readers, c.borrowing()))
	default:
		return orNil(key.NewTrueSmooth(sample, readers, smoothing))
	}
}

func (c *chain) borrowing() key.Borrowing {
	return key.Borrowing{Least: float64(c.book.Settings.Key.LeastFish), EdgeBins: c.book.Settings.Key.EdgeBins}
}

// orNil keeps a nil pointer from becoming a worker that is not nil.
func orNil[W key.Worker](w W, err error) (key.Worker, error) {
	if err != nil {
		return nil, err
	}
	return w, nil
}

// problem is the season to be drawn again.
func (c *chain) problem(s *Species) resample.Problem {
	p := resample.Problem{Counts: s.Counts, Replicates: c.options.Replicates, Seed: c.options.Seed,
		Workers: c.options.Workers, Fish: c.book.Settings.Resample.Fish}
	p.Worker = func() key.Worker {
		w, _ := c.worker(s, s.Key.Form, s.Key.Smoothing) // it could be made once, so it can be made again
		return w
	}
	if ofTrueAges(s.Key.Form) {
		p.Readers = s.Errors
	}
	return p
}
