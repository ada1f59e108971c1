package annuli

import (
	"fmt"
	"image"
	"math"

	"earstone/reading/transect"
)

// What is read of a picture, in µm, whatever its scale: half the breadth of the band,
// the distance between its rows, and that between values along the axis.
const (
	halfUm  = 130
	apartUm = 10
	stepUm  = 5
)

// Of is the section along an axis of a picture of full depth, its band read into b. Bright is
// whether annuli are brighter than what lies between: in light that falls on, not in light
// that shines through.
//
// A picture without scale is ErrScale. Panics on an axis without length.
func Of(b *transect.Band, picture *image.Gray16, axis transect.Axis, umPerPixel float64, bright bool) (Section, error) {
	if !(umPerPixel > 0) || math.IsInf(umPerPixel, 1) {
		return Section{}, ErrScale
	}
	if axis.Length() == 0 {
		panic(fmt.Sprintf("annuli: a section along %v pixels", axis.Length()))
	}
	b.Read(picture, axis, transect.Swath{
		Half: halfUm / umPerPixel, Apart: max(apartUm/umPerPixel, 1), Step: max(stepUm/umPerPixel, 1),
	})
	return Section{Band: b, Edge: axis.Length(), UmPerPixel: umPerPixel, Bright: bright}, nil
}
