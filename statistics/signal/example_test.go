package signal_test

import (
	"fmt"

	"earstone/statistics/signal"
)

// A slope of 0.1 a step with one bump on it: the slope goes, the bump stays.
func ExampleSearch_Ridges() {
	x := make([]float64, 40)
	for i := range x {
		x[i] = 0.1 * float64(i)
	}
	x[19], x[20], x[21] = x[19]+1, x[20]+2, x[21]+1

	trend := make([]float64, len(x))
	signal.NewTrend(len(x), 30).Fill(trend, x)
	for i := range x {
		x[i] -= trend[i]
	}
	for _, r := range signal.NewSearch(len(x), []float64{1, 2, 3}).Ridges(nil, x, 0.5) {
		fmt.Printf("a ridge at %.1f, width %.0f, strength %.1f\n", r.At, r.Width, r.Strength)
	}
	// Output:
	// a ridge at 20.0, width 2, strength 1.9
}
