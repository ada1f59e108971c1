package run

import (
	"earstone/estimate/key"
	"earstone/estimate/resample"
)

// key chooses the form, fits it to the season as it is and says what it rests on.
func (c *chain) key(s *Species) {
	form := c.form()
	worker, err := c.worker(s, form)
	if err != nil {
		s.NoKey = err
		return
	}
	d := &s.Counts.Design
	found := &KeyFound{Form: form, Q: make([]float64, d.KeyStrata*d.Bins*d.Ages), From: make([]key.Source, d.KeyStrata*d.Bins), Used: make([]float64, d.KeyStrata*d.Bins)}
	w := worker()
	found.Told = w.Fit(found.Q, found.From, s.Counts.Key.Weights(), nil)
	w.Used(found.Used)
	s.Key = found
	c.stage("key")
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

func (c *chain) worker(s *Species, form string) (func() key.Worker, error) {
	borrowing := key.Borrowing{Least: float64(c.book.Settings.Key.LeastFish), EdgeBins: c.book.Settings.Key.EdgeBins}
	if _, err := key.NewDirect(s.Counts.Key, borrowing); err != nil {
		return nil, err
	}
	return func() key.Worker {
		w, _ := key.NewDirect(s.Counts.Key, borrowing)
		return w
	}, nil
}

// problem is the season to be drawn again.
func (c *chain) problem(s *Species) resample.Problem {
	worker, _ := c.worker(s, s.Key.Form)
	return resample.Problem{Counts: s.Counts, Worker: worker, Replicates: c.options.Replicates, Seed: c.options.Seed,
		Workers: c.options.Workers, Fish: c.book.Settings.Resample.Fish}
}
