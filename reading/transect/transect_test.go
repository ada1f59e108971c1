package transect

import (
	"errors"
	"image"
	"image/color"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func through(t testing.TB, nodes ...Point) Axis {
	t.Helper()
	a, err := Through(nodes)
	if err != nil {
		t.Fatalf("No axis through %v: %v", nodes, err)
	}
	return a
}

func TestNoAxis(t *testing.T) {
	for _, c := range []struct {
		nodes []Point
		want  error
	}{
		{nil, ErrTooFew},
		{[]Point{{1, 1}}, ErrTooFew},
		{[]Point{{1, 1}, {1, 1.5}, {9, 9}}, ErrTogether},
		{[]Point{{1, 1}, {math.NaN(), 3}}, ErrNowhere},
		{[]Point{{1, 1}, {3, math.Inf(-1)}}, ErrNowhere},
	} {
		if _, err := Through(c.nodes); !errors.Is(err, c.want) {
			t.Errorf("An axis through %v gives %v, want %v.", c.nodes, err, c.want)
		}
	}
}

func TestStraightAxis(t *testing.T) {
	a := through(t, Point{10, 20}, Point{40, 60})
	if math.Abs(a.Length()-50) > 1e-9 {
		t.Errorf("The axis from 10, 20 to 40, 60 is %v long, want 50.", a.Length())
	}
	place, ahead := a.At(25)
	if apart(place, Point{25, 40}) > 1e-9 || apart(ahead, Point{0.6, 0.8}) > 1e-9 {
		t.Errorf("Half way along lies %v, going %v; want 25, 40 going 0.6, 0.8.", place, ahead)
	}
	if place, _ := a.At(-5); apart(place, Point{7, 16}) > 1e-9 {
		t.Errorf("5 pixels before the core lies %v, want 7, 16.", place)
	}
}

// An axis bent along a circle is as long as its arc, and stays on it.
func TestBentAxisFollowsACircle(t *testing.T) {
	const radius = 400
	var nodes []Point
	for k := range 7 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 12)
		nodes = append(nodes, Point{radius * cos, radius * sin})
	}
	a := through(t, nodes...)
	if want := radius * math.Pi / 2; math.Abs(a.Length()/want-1) > 0.005 {
		t.Errorf("A quarter of a circle is %.1f long, want %.1f.", a.Length(), want)
	}
	for d := 0.0; d < a.Length(); d += 10 {
		p, _ := a.At(d)
		if off := math.Hypot(p.X, p.Y) - radius; math.Abs(off) > 4 {
			t.Errorf("%.0f pixels along, the axis is %.1f off its circle.", d, off)
		}
	}
}

// Nearest undoes At, aside as well, where the bend is gentle.
func TestNearestUndoesAt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes := []Point{{0, 0}, {200, rapid.Float64Range(-40, 40).Draw(t, "bend")}, {400, 0}}
		a, err := Through(nodes)
		if err != nil {
			t.Fatal(err)
		}
		d := rapid.Float64Range(5, a.Length()-5).Draw(t, "distance")
		aside := rapid.Float64Range(-15, 15).Draw(t, "aside")
		p, ahead := a.At(d)
		got, off := a.Nearest(Point{p.X - aside*ahead.Y, p.Y + aside*ahead.X})
		if math.Abs(got-d) > 0.5 || math.Abs(off-aside) > 0.1 {
			t.Fatalf("The place %.2f along and %.2f aside is found at %.2f and %.2f.", d, aside, got, off)
		}
	})
}

// picture is 16-bit light by a function of x and y, from 0 to 1.
func picture(width, height int, light func(x, y float64) float64) *image.Gray16 {
	p := image.NewGray16(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			p.SetGray16(x, y, color.Gray16{Y: uint16(math.Round(65535 * light(float64(x), float64(y))))})
		}
	}
	return p
}

// Light that changes evenly is read exactly at any place, to the 16th bit.
func TestReadIsExactOnASlope(t *testing.T) {
	slope := func(x, y float64) float64 { return 0.1 + 0.002*x + 0.001*y }
	p := picture(300, 100, slope)
	a := through(t, Point{20.5, 30.25}, Point{270.25, 60})
	for _, step := range []float64{1, 2.5} {
		var b Band
		b.Read(p, a, Swath{Half: 6, Step: step})
		for j := range b.Across {
			for i := range b.Along {
				at, ahead := a.At(float64(i) * step)
				aside := float64(j-b.Across/2) * b.Apart
				want := slope(at.X-aside*ahead.Y, at.Y+aside*ahead.X)
				if got := b.Light[j*b.Along+i]; math.Abs(got-want) > 2e-5 {
					t.Fatalf("At step %v the light of row %d, value %d is %v, want %v.", step, j, i, got, want)
				}
			}
		}
		if b.Outside != 0 {
			t.Errorf("A share of %v lies outside, of a band that lies inside.", b.Outside)
		}
	}
}

func TestReadTellsWhatLiesOutside(t *testing.T) {
	p := picture(100, 50, func(x, y float64) float64 { return 0.5 })
	var b Band
	b.Read(p, through(t, Point{10, 0}, Point{90, 0}), Swath{Half: 10, Apart: 10})
	// Of three rows the one above the picture lies outside.
	if math.Abs(b.Outside-1.0/3) > 1e-9 {
		t.Errorf("With one row of three above the picture a share of %v lies outside, want a third.", b.Outside)
	}
	for _, v := range b.Light {
		if math.Abs(v-0.5) > 1e-4 {
			t.Fatalf("Beyond the border the light is %v, want that of the border, 0.5.", v)
		}
	}
}

// A cut-out of a larger picture is read by its own corner.
func TestReadOfACutOut(t *testing.T) {
	p := picture(200, 100, func(x, y float64) float64 { return x / 200 })
	cut := p.SubImage(image.Rect(50, 20, 150, 80)).(*image.Gray16)
	var b Band
	b.Read(cut, through(t, Point{10, 30}, Point{60, 30}), Swath{Half: 2})
	if got, want := b.Light[b.Across/2*b.Along], 60.0/200; math.Abs(got-want) > 1e-4 {
		t.Errorf("10 pixels into a cut-out that begins at 50 the light is %v, want %v.", got, want)
	}
}

// ringed is a straight arm along x whose rings lean.
func ringed(lean Lean) *image.Gray16 {
	return picture(420, 81, func(x, y float64) float64 {
		v := y - 40
		r := x - lean.Tilt*v + lean.Bow*v*v
		return 0.5 - 0.3*math.Cos(2*math.Pi*r/25)
	})
}

func TestLeanIsFound(t *testing.T) {
	for _, want := range []Lean{{}, {Tilt: 0.15}, {Tilt: -0.1, Bow: 0.005}, {Bow: 0.01}} {
		var b Band
		b.Read(ringed(want), through(t, Point{10, 40}, Point{410, 40}), Swath{Half: 30})
		var w Work
		got := w.Lean(&b, 4)
		if math.Abs(got.Tilt-want.Tilt) > 0.026 || math.Abs(got.Bow-want.Bow) > 0.0015 {
			t.Errorf("Rings that lean by %+v are found to lean by %+v.", want, got)
		}
		profile := make([]float64, b.Along)
		w.Profile(profile, &b, got, 0, b.Across)
		low, high := 1.0, 0.0
		for _, v := range profile[40 : len(profile)-40] {
			low, high = min(low, v), max(high, v)
		}
		if high-low < 0.5 {
			t.Errorf("Brought into line, rings of range 0.6 average to %.2f.", high-low)
		}
	}
}

// A fifth of the rows may hold anything.
func TestProfileIgnoresDust(t *testing.T) {
	b := Band{Along: 30, Across: 11, Step: 1, Apart: 1, Light: make([]float64, 330)}
	for i := range b.Light {
		b.Light[i] = 0.4
	}
	b.Light[3*30+12], b.Light[7*30+12] = 0, 1
	var w Work
	profile := make([]float64, 30)
	w.Profile(profile, &b, Lean{}, 0, 11)
	for i, v := range profile {
		if math.Abs(v-0.4) > 1e-12 {
			t.Errorf("With dust and a scratch in it, value %d of the profile is %v, want 0.4.", i, v)
		}
	}
}

func TestBandOfOneRowHasNoLean(t *testing.T) {
	b := Band{Along: 300, Across: 1, Step: 1, Apart: 1, Light: make([]float64, 300)}
	if got := new(Work).Lean(&b, 3); got != (Lean{}) {
		t.Errorf("A band of one row leans by %+v.", got)
	}
}

func TestNoAllocations(t *testing.T) {
	var b Band
	var w Work
	p, a := ringed(Lean{}), through(t, Point{10, 40}, Point{410, 40})
	b.Read(p, a, Swath{})
	profile := make([]float64, b.Along)
	work := func() {
		b.Read(p, a, Swath{})
		w.Profile(profile, &b, w.Lean(&b, 3), 0, b.Across)
	}
	work()
	if n := testing.AllocsPerRun(3, work); n != 0 {
		t.Errorf("Reading a band and its profile allocates %v times once there is room, want never.", n)
	}
}

func TestShapesThatPanic(t *testing.T) {
	b := Band{Along: 30, Across: 3, Step: 1, Apart: 1, Light: make([]float64, 90)}
	for name, call := range map[string]func(){
		"a place on no axis":        func() { new(Axis).At(1) },
		"the nearest on no axis":    func() { new(Axis).Nearest(Point{}) },
		"reading along no axis":     func() { new(Band).Read(picture(9, 9, func(x, y float64) float64 { return 0 }), Axis{}, Swath{}) },
		"reading an empty picture":  func() { new(Band).Read(image.NewGray16(image.Rectangle{}), through(t, Point{}, Point{9, 9}), Swath{}) },
		"a profile of other length": func() { new(Work).Profile(make([]float64, 29), &b, Lean{}, 0, 3) },
		"a profile of no row":       func() { new(Work).Profile(make([]float64, 30), &b, Lean{}, 2, 2) },
		"a reach of nothing":        func() { new(Work).Lean(&b, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("No panic for %s.", name)
				}
			}()
			call()
		}()
	}
}

func BenchmarkReadAndProfile(b *testing.B) {
	p, a := ringed(Lean{Tilt: 0.1}), through(b, Point{10, 40}, Point{410, 40})
	var band Band
	var w Work
	band.Read(p, a, Swath{})
	profile := make([]float64, band.Along)
	b.ReportAllocs()
	for b.Loop() {
		band.Read(p, a, Swath{})
		w.Profile(profile, &band, w.Lean(&band, 3), 0, band.Across)
	}
}
