package stream

import "math"

// A ziggurat covers a falling density with 256 layers of equal area, layer 0
// being the strip from 0 to the end with the tail beyond it. edge[i] is where
// layer i ends, density[i] the density there, density[256] = 1 the top.
//
// A place is 53 bits wide: step[i]·place runs over layer i, and places under
// inside[i] lie wholly under the density.

// Where the last layer ends, and the area of a layer, for 256 layers:
// recomputed to 20 digits by solving for a top layer that closes at 0.
const (
	normalEnd       = 3.6541528853610087716
	normalArea      = 0.0049286732339746553
	exponentialEnd  = 7.6971174701310497140
	exponentialArea = 0.0039496598225815571993
)

var (
	normalStep, exponentialStep       [256]float64
	normalInside, exponentialInside   [256]uint64
	normalDensity, exponentialDensity [257]float64
)

func init() {
	build(&normalStep, &normalInside, &normalDensity, normalEnd, normalArea,
		func(x float64) float64 { return exp(-0.5 * float64(x*x)) },
		func(y float64) float64 { return math.Sqrt(-2 * log(y)) })
	build(&exponentialStep, &exponentialInside, &exponentialDensity, exponentialEnd, exponentialArea,
		func(x float64) float64 { return exp(-x) },
		func(y float64) float64 { return -log(y) })
}

// build stacks the layers from the end inwards.
func build(step *[256]float64, inside *[256]uint64, density *[257]float64, end, area float64, f, inverse func(float64) float64) {
	// Layer 0 is as wide as its area asks at the height of the end.
	width := area / f(end)
	step[0] = width * 0x1p-53
	inside[0] = uint64(end / width * 0x1p53)
	density[0] = 0
	density[1] = f(end)
	edge := end
	for i := 1; i < 256; i++ {
		top := density[i] + area/edge // the layer from density[i] up to top is edge wide
		next := 0.0
		if i < 255 {
			next = inverse(top)
		} else {
			top = 1
		}
		density[i+1] = top
		step[i] = edge * 0x1p-53
		inside[i] = uint64(next / edge * 0x1p53)
		edge = next
	}
}
