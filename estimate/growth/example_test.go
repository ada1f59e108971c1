package growth_test

import (
	"errors"
	"fmt"
	"math"

	"earstone/estimate/growth"
	"earstone/programme/record"
)

func ExampleFitCurve() {
	// Two fish at each age, 5 cm above and below 240 (1 − e^{−0.2 (t + 0.5)}): the
	// fitted curve runs between them, with an SD of 5.
	var d growth.Data
	for t := 1.0; t <= 12; t++ {
		length := 240 * (1 - math.Exp(-0.2*(t+0.5)))
		d.Age, d.Length = append(d.Age, t, t), append(d.Length, length+5, length-5)
	}
	fit, err := growth.FitCurve(d, growth.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, name := range fit.Curve.Model.Parameters() {
		fmt.Printf("%s %.3f\n", name, fit.Estimates[i])
	}
	fmt.Printf("SD %.2f, %v fish\n", fit.Scale, fit.Fish)
	// Output:
	// Linf 240.000
	// K 0.200
	// t0 -0.500
	// SD 5.00, 24 fish
}

func ExampleFitCurve_noOldFish() {
	// Young fish grow in a straight line: where it ends can't be said.
	var d growth.Data
	for t := 1.0; t <= 4; t += 0.5 {
		d.Age, d.Length = append(d.Age, t, t), append(d.Length, 60+20*t+3, 60+20*t-3)
	}
	_, err := growth.FitCurve(d, growth.Settings{})
	var trouble *growth.Trouble
	fmt.Println(err)
	fmt.Println(errors.As(err, &trouble) && trouble.Reason == growth.NoOldFish)
	// Output:
	// no growth curve (von_bertalanffy): the oldest of 14 fish is 4, too young to fix the largest length
	// true
}

func ExampleFit_Profile() {
	// Twelve fish 5 cm above and below a level line: the largest length is their mean
	// and its interval, K and t0 held where they no longer matter, that of a
	// mean by χ²: 200 ± √(25 (e^{3.8415/12} − 1)).
	d := growth.Data{}
	for i := range 12 {
		d.Age, d.Length = append(d.Age, 50+float64(i)), append(d.Length, 195+10*float64(i%2))
	}
	fit, err := growth.FitCurve(d, growth.Settings{Hold: []record.Number{{}, record.Some(1), record.Some(0)}})
	if err != nil {
		fmt.Println(err)
		return
	}
	low, high, _ := fit.Profile(0, 0, 0.95)
	fmt.Printf("%.1f: %.3f to %.3f\n", fit.Estimates[0], low.X, high.X)
	fmt.Printf("%.3f\n", math.Sqrt(25*math.Expm1(3.841459/12)))
	// Output:
	// 200.0: 196.929 to 203.071
	// 3.071
}
