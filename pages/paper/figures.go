package paper

import "strings"

// The figures of the guide, drawn for it in mm of a middling head: 1 unit is 1 mm on the
// fish, so that 13 mm above the eye and 50 mm behind it are to scale. Snout to the left.
const (
	headWhole = "M 0 74 C 10 58 28 43 46 36 C 74 23 104 10 136 3 C 139 40 139 80 136 116 C 104 118 66 112 38 101 C 22 95 8 86 0 74 Z"
	headBelow = "M 0 74 C 10 58 28 43 46 36 L 138 36 C 139 62 138.6 90 136 116 C 104 118 66 112 38 101 C 22 95 8 86 0 74 Z"
	headRoof  = "M 46 36 C 74 23 104 10 136 3 C 137.4 14 138 25 138 36 Z"
	headMouth = "M 1.5 76.5 C 14 82 30 86 46 87"
	nostril   = "M 30 58 L 33 55.4"
)

const eyeX, eyeY, eyeRadius = 66.0, 66.0, 17.0 // so that the cut lies at 36, and the face at 133

var (
	bold  = Stroke{Width: 0.5, Colour: Ink}
	fine  = Stroke{Width: 0.25, Colour: Ink}
	grey  = Stroke{Width: 0.25, Colour: Muted}
	cutAt = Stroke{Width: 0.6, Colour: Rust, Dash: []float64{1.8, 1.3}}
	gauge = Stroke{Width: 0.3, Colour: Rust}
)

// eye of the side view.
func (f *Figure) eye() {
	f.Disc(eyeX, eyeY, eyeRadius, &White, &bold)
	f.Disc(eyeX+1, eyeY, eyeRadius*0.58, &SeaDim, &fine)
	f.Disc(eyeX+1, eyeY, eyeRadius*0.4, &Ink, nil)
	f.Disc(eyeX-3, eyeY-4, eyeRadius*0.1, &White, nil)
}

// headLines are what stands on the head below the cut.
func (f *Figure) headLines() {
	f.Path(headMouth, nil, &fine)
	f.Path(nostril, nil, &fine)
	f.Path("M 108 46 C 112 66 109 84 96 100", nil, &fine)
	f.Path("M 127.4 46 C 130 72 126 90 112 108", nil, &fine)
	f.eye()
}

// sideHead is the whole head from the side.
func (f *Figure) sideHead() {
	f.Path(headWhole, &White, nil)
	f.Path("M 0 74 C 10 58 28 43 46 36 C 74 23 104 10 136 3 C 137 14 138 26 138 40 C 100 42 60 48 0 74 Z", &SeaDim, nil)
	f.Path("M 132.5 4 C 135.5 40 135.5 80 132.5 116.4 L 136 116 C 139 80 139 40 136 3 Z", &Sand, &fine)
	f.Path(headWhole, nil, &bold)
	f.Path("M 113 24 C 117 31 120 38 122 46 C 127 72 124 90 110 108", nil, &fine)
	f.Path("M 97 40 C 108 60 107 82 92 102", nil, &fine)
	f.Path(headMouth, nil, &fine)
	f.Path(nostril, nil, &fine)
	f.eye()
}

// arrow is a measure between two points of the figure, a head at either end.
func (f *Figure) arrow(x0, y0, x1, y1 float64) {
	ax, ay := f.At(x0, y0)
	bx, by := f.At(x1, y1)
	f.d.Line(ax, ay, bx, by, gauge)
	const long, wide = 1.5, 0.55
	tip := func(x, y, dx, dy float64) {
		g := f.d.Figure(x, y, 1)
		g.Path(points(0, 0, long*dx-wide*dy, long*dy+wide*dx, long*dx+wide*dy, long*dy-wide*dx), &Rust, nil)
	}
	if x0 == x1 {
		tip(ax, ay, 0, sign(by-ay))
		tip(bx, by, 0, sign(ay-by))
		return
	}
	tip(ax, ay, sign(bx-ax), 0)
	tip(bx, by, sign(ax-bx), 0)
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}

// note writes a word at a point of the figure; about: −1 it ends there, 0 it is centred, 1
// it begins there.
func (f *Figure) note(x, y float64, about int, c Colour, text string) {
	f.d.Face(SemiBold, 7)
	f.d.Colour(c)
	px, py := f.At(x, y)
	for line := range strings.SplitSeq(text, "\n") {
		switch about {
		case -1:
			f.d.Right(px, py, line)
		case 0:
			f.d.Centre(px, py, line)
		default:
			f.d.Text(px, py, line)
		}
		py += 2.9
	}
}

// lead is a thin line from a word to its thing.
func (f *Figure) lead(x0, y0, x1, y1 float64) {
	ax, ay := f.At(x0, y0)
	bx, by := f.At(x1, y1)
	f.d.Line(ax, ay, bx, by, grey)
	f.d.Disc(bx, by, 0.45, Muted)
}

// say is a text of the guide.
func (g *guide) say(key string) string { return g.Words.Say("guide." + key) }

// measureFigure is the fish with the tape over its side.
func (g *guide) measureFigure(x, y, w float64) {
	f := g.d.Figure(x+2, y+15.5, w/112)
	f.drawFish(0.4)
	f.Path("M 0 19.6 L 100.4 19.6", nil, &Stroke{Width: 0.3, Colour: Muted, Dash: []float64{0.8, 0.9}})
	f.Path(tape, nil, &Stroke{Width: 1.1, Colour: Rust})
	f.Disc(0, 1.2, 1.1, &Rust, nil)
	f.Disc(100.4, 0, 1.1, &Rust, nil)
	f.note(0, -3, 0, Rust, g.say("snout"))
	f.note(107, 1, 1, Rust, g.say("fork"))
	f.note(18, -18, 0, Rust, g.say("measure_curve"))
	f.lead(18, -16.6, 26, -7.6)
	f.note(50, 23.6, 0, Muted, g.say("measure_not"))
}

// headFigure shows how much to leave behind the eye.
func (g *guide) headFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.sideHead()
	f.Path("M 83 66 L 83 128", nil, &grey)
	f.Path("M 137 116 L 137 128", nil, &grey)
	f.arrow(83, 125, 137, 125)
	f.note(110, 135, 0, Rust, g.say("behind_eye"))
	f.note(48, 9, 0, Muted, g.say("side_view"))
}

// lineFigure shows the cut from the side.
func (g *guide) lineFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.sideHead()
	f.Path("M 34 36 L 150 36", nil, &cutAt)
	f.Path("M 50 49 L 66 49", nil, &Stroke{Width: 0.2, Colour: Rust})
	f.arrow(57, 36, 57, 49)
	f.note(30, 30, -1, Rust, g.say("above_eye"))
	f.lead(30.5, 31, 56, 43)
	f.note(152, 38, 1, Rust, g.say("cut"))
	f.note(40, 128, 0, Muted, g.say("side_view"))
}

// behindFigure shows the cut on the face that was cut off.
func (g *guide) behindFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.Path("M 0 -60 C 20 -58 40 -30 42 0 C 43 28 26 56 0 58 C -26 56 -43 28 -42 0 C -40 -30 -20 -58 0 -60 Z", &Sand, &bold)
	f.Path("M 0 -48 C 6 -46 20 -36 25 -24 C 28 -12 20 10 9 14 C 4 16 -4 16 -9 14 C -20 10 -28 -12 -25 -24 C -20 -36 -6 -46 0 -48 Z", &White, &fine)
	f.Path("M -30 26 C -20 40 20 40 30 26", nil, &grey)
	f.Path("M -33 14 C -37 26 -28 42 -16 48", nil, &grey)
	f.Path("M 33 14 C 37 26 28 42 16 48", nil, &grey)
	f.Disc(0, 3, 9.5, &Wash, &fine) // the backbone, a vertebra end on
	f.Disc(0, 3, 6.2, nil, &grey)
	f.Disc(0, 3, 2.6, &White, &grey)
	f.Path("M 0 -20 C 5 -20 6.6 -16 6.4 -13 C 6 -9.6 3 -8.4 0 -8.4 C -3 -8.4 -6 -9.6 -6.4 -13 C -6.6 -16 -5 -20 0 -20 Z", &Ink, &fine)
	f.Path("M -54 -20 L 54 -20", nil, &cutAt)
	f.note(-56, -18.4, -1, Rust, g.say("cut"))
	not := Stroke{Width: 0.4, Colour: Muted, Dash: []float64{0.8, 1}}
	f.Path("M -46 13 L 46 13", nil, &not)
	f.Path("M 46.5 9.5 L 53.5 16.5 M 53.5 9.5 L 46.5 16.5", nil, &Stroke{Width: 0.6, Colour: Rust})
	f.note(57, 15, 1, Muted, g.say("not_here"))
	f.note(50, -34, 1, Ink, g.say("opening"))
	f.lead(49, -34.6, 4, -15)
	f.note(55, 1, 1, Ink, g.say("backbone"))
	f.lead(54, 0, 7, 2)
	f.note(0, 70, 0, Muted, g.say("back_view"))
}

// saw is a hand saw from the side, its teeth down along y = 0, from x to the right.
func (f *Figure) saw(x, y float64) {
	f.Path(points(x, y-1, x+14, y-17, x+96, y-17, x+96, y-1), &White, &bold)
	teeth := []float64{x, y - 1}
	for i := range 24 {
		teeth = append(teeth, x+float64(i)*4+2, y+1.6, x+float64(i)*4+4, y-1)
	}
	f.Path(points(teeth...), &White, &fine)
	f.Path(shape(x+96, y-24, "M 0 5 C 6 0 26 -2 33 8 C 38 16 36 26 30 29 C 24 31 14 26 0 25 Z"), &Sand, &bold)
	f.Path(shape(x+96, y-24, "M 10 9 C 16 6 24 7 26 12 C 28 17 26 21 22 21 C 17 21 12 18 10 17 Z"), &White, &fine)
}

// sawFigure shows the saw three quarters through.
func (g *guide) sawFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.sideHead()
	f.Path("M 69 36 L 138 36", nil, &Stroke{Width: 0.9, Colour: Rust})
	f.Path("M 44 36 L 69 36", nil, &cutAt)
	f.saw(74, 34)
	f.Path("M 69 36 L 69 -12", nil, &grey)
	f.Path("M 137 3 L 137 -12", nil, &grey)
	f.arrow(69, -9, 137, -9)
	f.note(103, -13, 0, Rust, g.say("quarters"))
}

// leverFigure shows the roof levered open with a knife.
func (g *guide) leverFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.Path(headBelow, &White, nil)
	f.Path("M 0 74 C 10 58 28 43 46 36 L 138 36 L 138 40 C 100 42 60 48 0 74 Z", &SeaDim, nil)
	f.Path("M 134.6 36 C 135.4 62 135 90 132.5 116.4 L 136 116 C 138.6 90 139 62 138 36 Z", &Sand, &fine)
	f.Path(headBelow, nil, &bold)
	f.headLines()
	f.Path("M 46 36 L 138 36", nil, &Stroke{Width: 0.9, Colour: Rust})
	px, py := f.At(52, 36)
	g.d.Turned(21, px, py, func() {
		f.Path(headRoof, &SeaDim, &bold)
		f.Path("M 48 36 L 138 36", nil, &Stroke{Width: 0.9, Colour: Rust})
	})
	kx, ky := f.At(104, 35)
	g.d.Turned(9, kx, ky, func() {
		f.Path("M 92 34.6 C 102 29.6 116 28.4 150 28.4 L 150 35.4 Z", &White, &bold)
		f.Path("M 150 27 C 164 25.6 182 26 186 29.6 C 188 33 186 36.4 180 36.8 L 150 36.8 Z", &Sand, &bold)
	})
	f.Path("M 146 -4 C 150 -16 146 -28 138 -36", nil, &gauge)
	f.Path("M 138 -36 L 144.4 -34 L 140.4 -29.6 Z", &Rust, nil)
	f.note(70, -8, -1, Ink, g.say("roof"))
	f.lead(71, -8, 98, -2)
}

// openFigure looks down into the open skull.
func (g *guide) openFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.Path("M 0 0 C 20 -20 60 -38 136 -44 C 140 -20 140 20 136 44 C 60 38 20 20 0 0 Z", &SeaDim, &bold)
	f.Path("M 46 0 C 48 -14 62 -25 84 -28 C 104 -30 122 -30 137.6 -29 C 139.4 -10 139.4 10 137.6 29 C 122 30 104 30 84 28 C 62 25 48 14 46 0 Z", &White, &Stroke{Width: 0.8, Colour: Rust})
	for _, side := range []float64{-1, 1} {
		f.Path(mirrored("M 98 20 C 98 14 106 12.6 113 13 C 121 13.4 127 16 126 20.4 C 125 25 118 27 111 26.8 C 104 26.6 98 25 98 20 Z", side), &Muted, &fine)
		f.Path(mirrored("M 103 20 C 104.6 16.6 110 17.4 114 16.8 C 119 16.4 122 18.6 120.6 21.4 C 118.6 24.4 114 22 111 23.4 C 107 24.8 102 23.4 103 20 Z", side), &White, &fine)
		for _, canal := range []string{
			"M 101 17 C 94 4 80 8 83 17 C 85 23.4 93 24 98.4 21",
			"M 121 14.6 C 122 3 135.4 4 134.4 14 C 133.6 21 129 22 125.6 20.6",
			"M 105 14 C 103 3.6 117.6 3 118 13.4",
		} {
			f.Path(mirrored(canal, side), nil, &Stroke{Width: 1.15, Colour: Sea})
			f.Path(mirrored(canal, side), nil, &Stroke{Width: 0.6, Colour: SeaDim})
		}
	}
	brain := Stroke{Width: 0.3, Colour: Ink}
	f.Path("M 56 0 C 56 -4 61 -5 66 -4.2 L 66 4.2 C 61 5 56 4 56 0 Z", &Sand, &brain)
	f.Path("M 65 0 C 64 -8 70 -10 76 -8 C 80 -6.4 80 -2 76.6 0 C 80 2 80 6.4 76 8 C 70 10 64 8 65 0 Z", &Sand, &brain)
	f.Path("M 76 -4 C 86 -5.6 98 -4 104 -2.4 L 137.8 -2.2 L 137.8 2.2 L 104 2.4 C 98 4 86 5.6 76 4 Z", &Sand, &brain)
	f.Path("M 66.6 0 L 76.6 0", nil, &fine)
	f.note(62, -50, 0, Ink, g.say("brain"))
	f.lead(62, -48, 70, -5)
	f.note(110, -52, 0, Sea, g.say("canals"))
	f.lead(110, -50, 111, -6.4)
	f.note(112, 58, 0, Ink, g.say("hollow"))
	f.lead(112, 52, 112, 20)
	f.note(-3, 1.6, -1, Muted, g.say("front"))
	f.note(24, 40, 0, Muted, g.say("top_view"))
}

// liftFigure shows tweezers on the membrane of a stone.
func (g *guide) liftFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.Path("M -34 22 C -30 8 -18 3 -6 -1 C -2 -6 -1 -11 0 -14 C 1 -11 3 -6 8 -2 C 22 2 34 8 37 21 C 39 33 20 39 0 39 C -20 39 -37 34 -34 22 Z", &SeaDim, &Stroke{Width: 0.4, Colour: Sea, Dash: []float64{1.2, 0.8}})
	f.Path("M -27 24 C -28 17 -18 12 -8 13 C -3 13.6 -1 16.6 2 15 C 10 10.4 24 13 28 20 C 30 25 26 31 16 32 C 9 32.6 5 28.8 0 30.4 C -6 32.6 -11 35.4 -19 33 C -24 31.4 -27 28 -27 24 Z", &White, &bold)
	for _, ring := range []string{
		"M -20 24 C -20 19 -12 16.6 -6 17.4 C 0 18.6 8 15.6 18 18",
		"M -14 24.4 C -13 21 -7 20.4 -2 21.2 C 3 22 9 20.6 14 22",
		"M -19 29 C -10 31 -4 26.6 2 26.4 C 8 26.2 14 28.4 20 27",
	} {
		f.Path(ring, nil, &grey)
	}
	for _, side := range []float64{-1, 1} {
		f.Path(mirrored90("M -1 -12 C -3.4 -30 -7 -56 -4 -84 L -1.4 -84 C -2.6 -56 -1 -30 0.2 -12 Z", side), &White, &bold)
	}
	f.Path("M -4 -84 C -3 -88 3 -88 4 -84 Z", &Muted, &bold)
	f.note(44, 2, 1, Sea, g.say("membrane"))
	f.lead(43, 1, 10, -1)
	f.note(44, 28, 1, Ink, g.say("stone"))
	f.lead(43, 27, 22, 25)
	f.Path("M 22 -34 L 22 -62", nil, &gauge)
	f.Path("M 22 -66 L 19.6 -60 L 24.4 -60 Z", &Rust, nil)
}

// toolsFigure is saw, knife and tweezers, one above the other.
func (g *guide) toolsFigure(x, y, scale float64) {
	f := g.d.Figure(x, y, scale)
	f.saw(0, 24)
	f.Path("M 4 52 C 20 44 46 42.6 84 42.6 L 84 52 Z", &White, &bold)
	f.Path("M 84 41 C 102 39.4 124 40 129 44.6 C 131 49 129 53 122 53.6 L 84 53.6 Z", &Sand, &bold)
	for _, side := range []float64{-1, 1} {
		f.Path(shape(8, 78, mirrored("M 0 0.4 C 30 2 60 9 108 5 L 108 1.6 C 60 4.6 30 0 0 -0.6 Z", side)), &White, &bold)
	}
	f.Path(shape(8, 78, "M 108 -5 C 113 -4 113 4 108 5 Z"), &Muted, &bold)
}

// vialFigure shows one code on vial and card.
func (g *guide) vialFigure(x, y float64) {
	f := g.d.Figure(x, y, 1)
	f.Path("M 0 5 L 0 31 C 0 34 12 34 12 31 L 12 5 Z", &White, &bold)
	f.Path("M -0.8 0 L 12.8 0 L 12.8 5 L -0.8 5 Z", &SeaDim, &bold)
	for _, i := range []float64{1.6, 4, 6.4, 8.8, 11} {
		f.Path(points(i, 0.8, i, 4.2), nil, &grey)
	}
	f.Path("M 0.2 10 L 11.8 10 L 11.8 22 L 0.2 22 Z", &White, &fine)
	g.d.Symbol(x+0.9, y+10.6, 7, g.Code)
	g.d.Face(SemiBold, 4.2)
	g.d.Colour(Ink)
	g.d.Text(x+0.9, y+20.4, g.Code.String())
	f.Path("M 3 27.4 C 4 26 7 26 8.6 27 C 9.4 28 8 29.6 6.6 29.2 C 5 29 3 29.6 3 27.4 Z", &White, &fine)
	g.d.Box(x+18, y+3, 32, 31, White)
	g.d.Frame(x+18, y+3, 32, 31, 0.6, bold)
	g.d.Symbol(x+19.2, y+4.2, 8, g.Code)
	g.d.Face(SemiBold, 6)
	g.d.Text(x+27.8, y+8.8, g.Code.String())
	g.d.Box(x+19.6, y+14, 28.8, 5, Wash)
	for i := range 4 {
		g.d.Line(x+20.4, y+17.6+float64(i)*4.4, x+46-float64(i%2)*9, y+17.6+float64(i)*4.4, grey)
	}
}
