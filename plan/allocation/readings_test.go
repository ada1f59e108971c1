package allocation

import (
	"math"
	"testing"

	"earstone/estimate/run"
	"earstone/statistics/stream"
)

// TestReadersKeepTheirVariance: what the readers bring is in the forecast of today's
// sampling, whether their error was learnt from stones of the season that were read twice
// or from a reference collection, of which no second reading takes anything away.
func TestReadersKeepTheirVariance(t *testing.T) {
	for _, twice := range []float64{0, 300} {
		s := &Season{Problem: &Problem{Targets: []Target{{Value: 100, Want: 0.1}}}, Ages: []int{4}, Costs: DefaultCosts(), once: 600, twice: twice,
			Species: &run.Species{Influence: &run.InfluenceFound{Alone: []run.SourceVar{{Source: stream.Reader, Variance: []float64{0, 0, 0, 0, 25}}}}}}
		s.fix()
		s.readings()
		if got := s.Predict(s.Problem.Today())[0]; math.Abs(got-25) > 1e-12 {
			t.Errorf("with %v stones read twice readers bring the variance %v, want 25", twice, got)
		}
	}
}
