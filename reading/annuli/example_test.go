package annuli_test

import (
	"fmt"

	"earstone/plan/section"
	"earstone/reading/annuli"
	"earstone/reading/transect"
)

// A drawn section of five annuli without flaws.
func ExampleWork_Suggest() {
	drawn := section.Draw(1, 2, section.Settings{Least: 5, Most: 5, Quiet: true})
	axis, err := transect.Through(drawn.Clicked) // core, bends and edge, as a reader sets them
	if err != nil {
		fmt.Println(err)
		return
	}
	var band transect.Band
	s, err := annuli.Of(&band, drawn.Picture, axis, drawn.UmPerPixel, drawn.Light == section.Reflected)
	if err != nil {
		fmt.Println(err)
		return
	}
	offered, err := annuli.NewWork(annuli.Default()).Suggest(s)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(offered.Marks), "annuli are suggested; sure of it:", offered.Confidence > 0.9)
	// Output:
	// 5 annuli are suggested; sure of it: true
}
