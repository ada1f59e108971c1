package paper

// The outline of a tuna from the left, snout at the origin, fork at 100, in units of a
// hundredth of its length; drawn for these pages.
const (
	body = "M 0 1.2 C 4 -3.2 11 -8.4 22 -11.2 C 34 -14 48 -13.4 60 -9.4 C 72 -5.4 84 -2 95 -1 " +
		"L 95 1 C 84 3 73 7 61 10.6 C 48 14.4 33 14.6 21 11.6 C 11 9 3.4 5 0 1.2 Z"
	tail        = "M 94.6 -1 C 97 -3 99.5 -8.6 104.6 -14.6 C 102.8 -8.6 101.2 -3.4 100.4 0 C 101.2 3.4 102.8 8.6 104.6 14.6 C 99.5 8.6 97 3 94.6 1 Z"
	firstFin    = "M 31 -13 C 31.6 -16 32.6 -18.4 34.2 -20.2 C 35.6 -17.6 40 -14.6 48 -12.4 Z"
	secondFin   = "M 52.5 -11.4 C 54 -15 56.6 -19 60.6 -21.4 C 59.6 -17 59.6 -13 61.6 -9 Z"
	analFin     = "M 57 11.6 C 58.6 15 61 19 65 21.2 C 64 17 64 13.4 66 9.2 Z"
	pelvicFin   = "M 30 13 C 32 15.6 35 17.4 38.6 18 C 37.4 16 37 14.6 37.2 13.4 Z"
	pectoralFin = "M 27.6 2.6 C 33 2.2 40 3.4 47 6.4 C 40 7.2 33 6.6 27.8 4.8 Z"
	gill        = "M 22.4 -8.4 C 25.8 -4 26 4.6 22.6 9.6"
	mouth       = "M 0.4 1.6 C 3.6 3.2 6.4 3.8 9 3.8"
	keel        = "M 86 0 L 97 0"
	finletsUp   = "M 65 -8.2 L 67.6 -9.8 L 67.4 -7.4 Z M 70 -6.4 L 72.6 -8 L 72.4 -5.6 Z M 75 -5 L 77.6 -6.4 L 77.4 -4.2 Z M 80 -3.8 L 82.6 -5.2 L 82.4 -3.1 Z M 85 -2.8 L 87.4 -4.1 L 87.2 -2.3 Z"
	finletsDown = "M 69 8 L 71.6 9.8 L 71.4 7.2 Z M 74 6.4 L 76.6 8 L 76.4 5.5 Z M 79 4.8 L 81.6 6.4 L 81.4 4.1 Z M 84 3.4 L 86.6 4.9 L 86.4 2.8 Z"
	back        = "M 0 1.2 C 4 -3.2 11 -8.4 22 -11.2 C 34 -14 48 -13.4 60 -9.4 C 72 -5.4 84 -2 95 -1 L 95 0 C 80 -1.6 64 -4 50 -4.6 C 34 -5.2 16 -3.6 0 1.2 Z"
	// The tape runs over the curve of the side, from the snout to the fork.
	tape = "M 0 1.2 C 16 -7.4 34 -9.4 52 -7.4 C 70 -5.2 86 -1.4 100.4 0"
)

// drawFish draws the tuna; line is the width of its outline in mm.
func (f *Figure) drawFish(line float64) {
	outline, thin := Stroke{Width: line, Colour: Ink}, Stroke{Width: line * 0.7, Colour: Ink}
	for _, fin := range []string{firstFin, secondFin, analFin, pelvicFin, tail} {
		f.Path(fin, &SeaDim, &outline)
	}
	f.Path(finletsUp, &Sand, &thin)
	f.Path(finletsDown, &Sand, &thin)
	f.Path(body, &White, nil)
	f.Path(back, &SeaDim, nil)
	f.Path(body, nil, &outline)
	f.Path(pectoralFin, &White, &thin)
	f.Path(gill, nil, &thin)
	f.Path(mouth, nil, &thin)
	f.Path(keel, nil, &thin)
	f.Disc(9.6, -1.6, 1.7, &White, &thin)
	f.Disc(9.8, -1.6, 0.75, &Ink, nil)
}

// smallFish is the fish of the cards: centred on x and y, with the tape over its side.
func smallFish(d *Doc, x, y, scale float64) {
	f := d.Figure(x-52*scale, y, scale)
	f.drawFish(0.18)
	f.Path(tape, nil, &Stroke{Width: 0.5, Colour: Rust})
	f.Disc(0, 1.2, 1.6, &Rust, nil)
	f.Disc(100.4, 0, 1.6, &Rust, nil)
}
