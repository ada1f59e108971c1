package agreement_test

import (
	"fmt"

	"earstone/reading/agreement"
)

// Four fish, read by two readers as 5 and 5, 7 and 8, 2 and 4, 10 and 9.
func ExampleOf() {
	s := agreement.Of([]int{5, 5, 7, 8, 2, 4, 10, 9}, 2)
	fmt.Printf("APE %.2f %%, CV %.2f %%\n", s.APE.X, s.CV.X)
	fmt.Printf("exact %.0f %%, within one %.0f %%\n", s.Exact.X, s.Within1.X)
	// Output:
	// APE 11.32 %, CV 16.00 %
	// exact 25 %, within one 75 %
}

func ExampleCompare() {
	p := agreement.Compare([]int{5, 7, 2, 10}, []int{5, 8, 4, 9})
	fmt.Printf("mean difference %.2f, from %.2f to %.2f\n", p.Difference.Mean.X, p.Difference.Low.X, p.Difference.High.X)
	fmt.Printf("%d above, %d below, exact p %.2f\n", p.Above, p.Below, p.McNemar.P.X)
	// Output:
	// mean difference 0.50, from -1.55 to 2.55
	// 2 above, 1 below, exact p 1.00
}

// Vision of 7,477 women by eye (Stuart 1953): grades of the right eye down, of the left
// across.
func ExampleSymmetryOf() {
	s := agreement.SymmetryOf([]int{
		1520, 266, 124, 66,
		234, 1512, 432, 78,
		117, 362, 1772, 205,
		36, 82, 179, 492,
	}, 4)
	fmt.Printf("Bowker %.2f on %d df, p %.4f\n", s.Bowker.X2.X, s.Bowker.DF, s.Bowker.P.X)
	// Output:
	// Bowker 19.11 on 6 df, p 0.0040
}

// Thirty control re-readings of fish of six rings, the last ten of them one ring more.
func ExampleDriftOf() {
	controls := make([]agreement.Control, 30)
	for i := range controls {
		controls[i] = agreement.Control{First: 6, Again: 6 + i/20}
	}
	d := agreement.DriftOf("ada", controls)
	fmt.Printf("running mean %+.1f, limits %.2f to %.2f, breach %v\n", d.Points[0].Mean, d.Difference.Low, d.Difference.High, d.Points[0].Breach)
	// Output:
	// running mean +1.0, limits -0.36 to 0.36, breach true
}
