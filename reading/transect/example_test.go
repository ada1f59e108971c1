package transect_test

import (
	"fmt"
	"image"
	"image/color"

	"earstone/reading/transect"
)

// A dark line across the axis, 30 pixels from the core.
func ExampleWork_Profile() {
	picture := image.NewGray16(image.Rect(0, 0, 60, 40))
	for y := range 40 {
		for x := range 60 {
			picture.SetGray16(x, y, color.Gray16{Y: 40_000})
		}
		picture.SetGray16(35, y, color.Gray16{Y: 10_000})
	}
	axis, err := transect.Through([]transect.Point{{X: 5, Y: 20}, {X: 55, Y: 20}})
	if err != nil {
		fmt.Println(err)
		return
	}
	var band transect.Band
	band.Read(picture, axis, transect.Swath{Half: 10})
	profile := make([]float64, band.Along)
	new(transect.Work).Profile(profile, &band, transect.Lean{}, 0, band.Across)
	fmt.Printf("%.3f %.3f %.3f\n", profile[29], profile[30], profile[31])
	// Output:
	// 0.610 0.153 0.610
}
