package run

import (
	"fmt"
	"slices"

	"earstone/estimate/key"
	"earstone/estimate/resample"
)

// Forms are the forms of key that a run can be asked for: of agreed ages or of true ages,
// direct or smoothed.
func Forms() []string {
	return []string{"agreed_direct", "agreed_smoothed", "true_direct", "true_smoothed"}
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

func ofTrueAges(form string) bool { return form == "true_direct" || form == "true_smoothed" }

// key fits the chosen form to the season as it is and says what it rests on.
func (c *chain) key(s *Species) {
	form := c.form()
	if !slices.Contains(Forms(), form) {
		s.NoKey = fmt.Errorf("there is no key of the form %q", form)
		return
	}
	if ofTrueAges(form) && s.Errors == nil {
		s.NoKey = fmt.Errorf("a key of true ages needs the ageing error: %w", s.NoErrors)
		return
	}
	worker, err := c.worker(s, form)
	if err != nil {
		s.NoKey = err
		return
	}
	d := &s.Counts.Design
	found := &KeyFound{Form: form, Q: make([]float64, d.KeyStrata*d.Bins*d.Ages),
		From: make([]key.Source, d.KeyStrata*d.Bins), Used: make([]float64, d.KeyStrata*d.Bins)}
	found.Told = worker.Fit(found.Q, found.From, s.Counts.Key.Weights(), c.matrices(s, form))
	worker.Used(found.Used)
	s.Key = found
	c.stage("key")
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
func (c *chain) worker(s *Species, form string) (key.Worker, error) {
	set := c.book.Settings.Key
	borrowing := key.Borrowing{Least: float64(set.LeastFish), EdgeBins: set.EdgeBins}
	smoothing := key.Smoothing{EdgeBins: set.EdgeBins}
	switch sample, readers := s.Counts.Key, c.matrices(s, form); form {
	case "agreed_direct":
		return orNil(key.NewDirect(sample, borrowing))
	case "agreed_smoothed":
		return orNil(key.NewSmooth(sample, smoothing))
	case "true_direct":
		return orNil(key.NewTrue(sample, readers, borrowing))
	default:
		return orNil(key.NewTrueSmooth(sample, readers, smoothing))
	}
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
		w, _ := c.worker(s, s.Key.Form) // it could be made once, so it can be made again
		return w
	}
	if ofTrueAges(s.Key.Form) {
		p.Readers = s.Errors
	}
	return p
}
