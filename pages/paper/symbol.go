package paper

import (
	"fmt"

	"github.com/boombuler/barcode/datamatrix"

	"earstone/programme/label"
)

// quiet is the white about a symbol, in modules.
const quiet = 2

// modules are the dark modules of a code's DataMatrix, row by row, n × n.
func modules(code label.Code) (dark []bool, n int) {
	symbol, err := datamatrix.Encode(code.String())
	if err != nil {
		panic(fmt.Sprintf("paper: no DataMatrix of %s: %v", code, err)) // 15 signs at most always fit
	}
	n = symbol.Bounds().Dx()
	dark = make([]bool, n*n)
	for y := range n {
		for x := range n {
			r, _, _, _ := symbol.At(x, y).RGBA()
			dark[y*n+x] = r == 0
		}
	}
	return dark, n
}

// Symbol draws the DataMatrix of a code with its quiet zone into a square of a side,
// runs of modules as one box each, and returns the side of a module in mm.
func (d *Doc) Symbol(x, y, side float64, code label.Code) float64 {
	dark, n := modules(code)
	module := side / float64(n+2*quiet)
	for row := range n {
		for from := 0; from < n; from++ {
			to := from
			for to < n && dark[row*n+to] {
				to++
			}
			if to > from {
				d.Box(x+float64(quiet+from)*module, y+float64(quiet+row)*module, float64(to-from)*module, module, Black)
			}
			from = to
		}
	}
	return module
}
