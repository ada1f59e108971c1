package origin

import "math"

// Score is how a form does on fish held out one by one: the density is fitted without
// the fish, which is then judged with equal shares of all nurseries.
type Score struct {
	Form         Form
	LogPosterior float64   // mean of ln posterior of the true nursery: what forms are chosen by
	LogDensity   float64   // mean of ln density of the true nursery
	Called       []float64 // fish, nurseries × nurseries: rows are true, columns called (the likeliest)
	Right        float64   // share called for their own nursery
	Posterior    []float64 // of the true nursery, by baseline fish as in Problem.Baseline; 0 where not scored
	Scored       []bool    // whether a baseline fish was scored
	Fish         int       // how many were
	Reason       Reason    // why there is no score; 0: there is one
	Nursery      int       // the reason is about; -1: none
}

// choose scores each form, and keeps the one asked for or the best.
func (f *Fit) choose() error {
	var trouble *Trouble
	best := math.Inf(-1)
	for _, form := range Forms() {
		if f.settings.Form != Best && f.settings.Form != form {
			continue
		}
		c := newClasses(f.data, form)
		if reason, k, j := c.fit(false); reason != 0 {
			f.Scores = append(f.Scores, Score{Form: form, Reason: reason, Nursery: k})
			if trouble == nil {
				trouble = f.trouble(reason, k, j)
			}
			continue
		}
		score := f.holdOut(form)
		f.Scores = append(f.Scores, score)
		// A form that can't be held out stands in only where no other can be either.
		worth := score.LogPosterior
		if score.Reason != 0 {
			worth = -math.MaxFloat64
		}
		if f.classes == nil || worth > best {
			best, f.Form, f.classes = worth, form, c
		}
	}
	if f.classes == nil {
		return trouble
	}
	sortScores(f.Scores)
	if f.Scores[0].Reason == 0 && f.Scores[0].Form == f.Form {
		f.Held = &f.Scores[0]
	} else {
		f.Doubts = append(f.Doubts, Doubt{Reason: NoHeldOutScore, Nursery: f.Scores[0].Nursery, Tracer: -1})
	}
	return nil
}

// trouble puts names to a reason.
func (f *Fit) trouble(reason Reason, nursery, tracer int) *Trouble {
	t := &Trouble{Reason: reason}
	if nursery >= 0 {
		t.Nursery = f.problem.Nurseries[nursery]
	}
	if tracer >= 0 {
		t.Tracer = f.problem.Tracers[tracer].Name
	}
	return t
}

// sortScores puts the best first, forms without a score last.
func sortScores(scores []Score) {
	better := func(a, b Score) bool {
		if (a.Reason == 0) != (b.Reason == 0) {
			return a.Reason == 0
		}
		return a.Reason == 0 && a.LogPosterior > b.LogPosterior
	}
	for i := range scores {
		for j := i; j > 0 && better(scores[j], scores[j-1]); j-- {
			scores[j], scores[j-1] = scores[j-1], scores[j]
		}
	}
}

// holdOut scores a form. A fish that is alone in its nursery can't be scored: without it
// its nursery has no density.
func (f *Fit) holdOut(form Form) Score {
	t := f.data
	c, K := newClasses(t, form), t.nurseries
	s := Score{Form: form, Nursery: -1, Called: make([]float64, K*K),
		Posterior: make([]float64, len(f.problem.Baseline)), Scored: make([]bool, len(f.problem.Baseline))}
	logs, even := make([]float64, K), make([]float64, K)
	for b, row := range t.row {
		cell := int(t.cell[b])
		own := cell / (t.years + 1)
		if t.start[own+1]-t.start[own] == 1 {
			continue
		}
		c.weight[b] = 0
		reason, nursery, _ := c.fit(false)
		if reason != 0 {
			s.Reason, s.Nursery = NoHeldOutScore, nursery
			return s
		}
		for k := range K {
			logs[k], _, _ = c.at(k, cell%(t.years+1), t.x[b*t.d:(b+1)*t.d], 0)
		}
		c.weight[b] = 1 // the kernel looks at weights until here
		posterior(even, logs, nil)
		s.Fish++
		s.Scored[row], s.Posterior[row] = true, even[own]
		s.LogPosterior += logShare(logs, own)
		s.LogDensity += logs[own]
		called := largest(logs)
		s.Called[own*K+called]++
		if called == own {
			s.Right++
		}
	}
	if s.Fish == 0 {
		s.Reason = NoHeldOutScore
		return s
	}
	n := float64(s.Fish)
	s.LogPosterior, s.LogDensity, s.Right = s.LogPosterior/n, s.LogDensity/n, s.Right/n
	return s
}

// logShare is ln(f_k/Σ_j f_j), which stays finite where the share itself runs under.
func logShare(logs []float64, k int) float64 {
	top := logs[largest(logs)]
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp(l - top)
	}
	return logs[k] - top - math.Log(sum)
}
