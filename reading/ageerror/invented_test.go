package ageerror

import (
	"math"
	"testing"

	"earstone/statistics/stream"
)

// invention is a programme's readings with a known truth.
type invention struct {
	models []Model
	theta  [][]float64
	beta   []float64 // ages 0, 1 ...
	oldest int
	share  []float64 // by reader: chance that a stone is read
	known  float64   // chance that a fish's age is known
}

// draw reads fish of the invention.
func (v invention) draw(s *stream.Stream, fish int) Data {
	ages, counts := len(v.beta), v.oldest+1
	d := Data{Ages: ages, Oldest: v.oldest, Readers: len(v.models)}
	var matrices [][]float64
	for r, m := range v.models {
		matrices = append(matrices, Matrix(make([]float64, ages*counts), m, v.theta[r], ages, counts))
	}
	for range fish {
		a := s.Choose(v.beta)
		p := Pattern{Known: -1, N: 1}
		for r := range v.models {
			c := s.Choose(matrices[r][a*counts : (a+1)*counts])
			if s.Float64() >= v.share[r] {
				c = -1
			}
			p.Counts = append(p.Counts, int16(c))
		}
		if s.Float64() < v.known {
			p.Known = a
		}
		d.Patterns = append(d.Patterns, p)
	}
	return d
}

// stock is a composition by age 0 ... ages − 1 with a peak at 4.
func stock(ages int) []float64 {
	beta, sum := make([]float64, ages), 0.0
	for a := range beta {
		beta[a] = (1 - math.Exp(-0.5*float64(a+1))) * math.Exp(-0.18*float64(a))
		if a < 4 {
			beta[a] *= 0.3 + 0.15*float64(a)
		}
		sum += beta[a]
	}
	for a := range beta {
		beta[a] /= sum
	}
	return beta
}

// season is 5,000 fish of ages 0 to 20 with some 12,000 readings by three readers.
func season() invention {
	m := func(sd SDForm, bias BiasForm) Model { return Model{sd, bias, 0, 20} }
	return invention{
		models: []Model{m(ConstantCV, NoBias), m(Curve, NoBias), m(ConstantCV, Proportional)},
		theta:  [][]float64{{0.08}, {0.2, 1.6, 0.1}, {0.11, 0.05}},
		beta:   stock(21), oldest: 22, share: []float64{0.95, 0.8, 0.65},
	}
}

func BenchmarkEstimate(b *testing.B) {
	var s stream.Stream
	s.Reset(1, stream.Invention, 0)
	d := season().draw(&s, 5000)
	b.ReportAllocs()
	for b.Loop() {
		fit, err := Estimate(d, Settings{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(fit.Tried)), "forms")
	}
}

func BenchmarkDrawAndMatrices(b *testing.B) {
	v := season()
	var s stream.Stream
	s.Reset(1, stream.Invention, 0)
	fit := mustEstimate(b, v.draw(&s, 5000), Settings{Models: v.models})
	dst, matrices := fit.NewDraw(), make([][]float64, 3)
	for r := range matrices {
		matrices[r] = make([]float64, 21*23)
	}
	for b.Loop() {
		fit.Draw(&s, dst)
		fit.Matrices(matrices, dst)
	}
}

func BenchmarkMatrix(b *testing.B) {
	dst := make([]float64, 21*23)
	for b.Loop() {
		Matrix(dst, Model{Curve, Proportional, 0, 20}, []float64{0.2, 1.6, 0.1, 0.05}, 21, 23)
	}
}
