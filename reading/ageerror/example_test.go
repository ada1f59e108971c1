package ageerror_test

import (
	"fmt"

	"earstone/reading/ageerror"
)

// Two readers on fish of ages 1 to 3, SD 0.3 at age 3: a count of 3 takes 2.5 to 3.5,
// 1.667 SD to either side, so 4.78 % fall short of it and as many beyond go to 4.
func ExampleMatrix() {
	m := ageerror.Model{SD: ageerror.ConstantCV, Bias: ageerror.NoBias, Low: 1, High: 3}
	matrix := ageerror.Matrix(make([]float64, 4*5), m, []float64{0.1}, 4, 5)
	for a := 1; a < 4; a++ {
		fmt.Printf("%.4f\n", matrix[a*5:(a+1)*5])
	}
	// Output:
	// [0.0000 1.0000 0.0000 0.0000 0.0000]
	// [0.0000 0.0062 0.9876 0.0062 0.0000]
	// [0.0000 0.0000 0.0478 0.9044 0.0478]
}

// A thousand fish of known age 2 and as many of age 4, read once. Of those aged 4, 160
// were read as 3 and 160 as 5, so half a year is z = 0.9945 SD: σ(4) = 0.5/0.9945 = 0.50.
// At the same CV, 4.7 % of those aged 2 are off, as the readings have it.
func ExampleEstimate() {
	read := func(known int, count int16, n float64) ageerror.Pattern {
		return ageerror.Pattern{Counts: []int16{count}, N: n, Known: known}
	}
	fit, err := ageerror.Estimate(ageerror.Data{
		First: 1, Ages: 6, Oldest: 8, Readers: 1,
		Patterns: []ageerror.Pattern{
			read(2, 1, 23), read(2, 2, 954), read(2, 3, 23),
			read(4, 3, 160), read(4, 4, 680), read(4, 5, 160),
		},
	}, ageerror.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(fit.Models[0])
	fmt.Printf("σ(2) = %.2f, σ(4) = %.2f\n", fit.Models[0].SDAt(fit.Theta[0], 2), fit.Models[0].SDAt(fit.Theta[0], 4))
	// Output:
	// sd constant_cv, bias none
	// σ(2) = 0.25, σ(4) = 0.50
}
