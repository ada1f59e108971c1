package annuli

import (
	"math"
	"slices"

	"earstone/reading/transect"
	"earstone/statistics/signal"
)

// Work makes suggestions one after another; it holds the room for them.
type Work struct {
	model    Model
	transect transect.Work

	profile, trend []float64
	ridges         []signal.Ridge
	places         []place
	strengths      []float64

	edges   []edge
	from    []int     // edges that start at a place: edges[from[i]:from[i+1]]
	forward []float64 // by place and count, the core first
	back    []float64
	finish  []float64 // by place and count: the way from there to the edge of the stone
	missed  []float64 // the same when one more annulus on it shows nothing
	allowed []bool    // by place and count, while learning: what the truth allows; empty: all
	top     []float64
	came    []int32
	own     float64 // growth of the fish that is weighed
	all     sums
	truth   sums // while learning: of what the truth allows
	edgeUm  float64
}

// NewWork is room for suggestions by a model.
func NewWork(m Model) *Work { return &Work{model: m} }

// place is where an annulus may be, with how it looks.
type place struct {
	um    float64
	looks [looks]float64
	odds  float64 // evidence, e_j
	bound bool    // the evidence is as large or as small as it may be

	ridge   signal.Ridge
	width   int     // of the search
	shown   int     // strips in which it is to be seen
	sum, sq float64 // of its strength over strips
}

const (
	looks        = 12
	stripsAcross = 6
	swingUm      = 600 // what is longer is light or thickness, not annuli
)

// widthsUm are the widths that ridges are searched at, SD in µm.
var widthsUm = []float64{6, 9, 14, 22, 36, 60}

// look finds the places of a section and how each looks.
func (w *Work) look(s Section) error {
	if !(s.UmPerPixel > 0) {
		return ErrScale
	}
	step := s.Band.Step * s.UmPerPixel
	n := min(int(s.Edge/s.Band.Step)+1, s.Band.Along)
	var widths []float64
	for _, um := range widthsUm {
		if um/step >= 0.8 && float64(n) > 12*um/step {
			widths = append(widths, um/step)
		}
	}
	if n < 40 || len(widths) < 2 {
		return ErrShort
	}
	w.edgeUm = s.Edge * s.UmPerPixel
	reach := max(int(math.Round(20/step)), 1)
	lean := w.transect.Lean(s.Band, reach)
	search := signal.NewSearch(n, widths)
	trend := signal.NewTrend(n, swingUm/step)
	w.read(s, lean, 0, s.Band.Across, n, trend)
	w.ridges = search.Ridges(w.ridges[:0], w.profile[:n], 0)
	if len(w.ridges) == 0 {
		return ErrBlank
	}
	w.describe(widths, step)
	for k := range stripsAcross {
		first, last := k*s.Band.Across/stripsAcross, (k+1)*s.Band.Across/stripsAcross
		if last > first {
			w.read(s, lean, first, last, n, trend)
			search.Respond(w.profile[:n])
			w.across(search)
		}
	}
	w.read(s, lean, 0, s.Band.Across, n, trend)
	w.judge()
	return nil
}

// read fills the profile of some rows, without trend, annuli upwards.
func (w *Work) read(s Section, lean transect.Lean, first, last, n int, trend *signal.Trend) {
	w.profile = slices.Grow(w.profile[:0], s.Band.Along)[:s.Band.Along]
	w.trend = slices.Grow(w.trend[:0], n)[:n]
	w.transect.Profile(w.profile, s.Band, lean, first, last)
	trend.Fill(w.trend, w.profile[:n])
	for i := range n {
		w.profile[i] -= w.trend[i]
		if !s.Bright {
			w.profile[i] = -w.profile[i]
		}
	}
}

// describe makes places of the ridges.
func (w *Work) describe(widths []float64, step float64) {
	w.places = w.places[:0]
	for _, r := range w.ridges {
		w.places = append(w.places, place{um: r.At * step, ridge: r, width: slices.Index(widths, r.Width)})
	}
}

// across adds what one strip of the band shows at each place.
func (w *Work) across(search *signal.Search) {
	for i := range w.places {
		p := &w.places[i]
		r := search.Response(p.width, p.ridge.At)
		p.sum += r
		p.sq += float64(r * r)
		if r > 0.4*p.ridge.Strength {
			p.shown++
		}
	}
}

// judge turns what was seen into looks: 1; the logarithm of the contrast beside that
// of the section's strong places, and beside the strongest within a year's growth; how
// its width suits that growth, and the square of it; the share of strips that show
// it; the logarithm of the contrast beside that of a usual place; the logarithm of its mean over strips
// beside the error of that; how near the rim of the stone it is; the logarithm of the
// year's growth that is usual there; its asymmetry; and the square of the third.
func (w *Work) judge() {
	w.strengths = w.strengths[:0]
	for i := range w.places {
		w.strengths = append(w.strengths, w.places[i].contrast())
	}
	slices.Sort(w.strengths)
	strong, usual := w.strengths[len(w.strengths)*4/5], w.strengths[len(w.strengths)/2]
	for i := range w.places {
		p := &w.places[i]
		spacing := w.model.spacing(p.um)
		suits := math.Log(p.ridge.Width * p.um / max(p.ridge.At, 1) * 5 / spacing)
		mean := p.sum / stripsAcross
		off := math.Sqrt(max(p.sq/stripsAcross-float64(mean*mean), 1e-12) / (stripsAcross - 1))
		p.looks = [looks]float64{
			1,
			math.Log(p.contrast() / strong),
			math.Log(p.contrast() / w.strongest(i, spacing)),
			suits,
			suits * suits,
			float64(p.shown) / stripsAcross,
			math.Log(p.contrast() / usual),
			math.Log(min(max(mean/off, 0.3), 30)),
			math.Exp(-(w.edgeUm - p.um) / 15),
			math.Log(spacing / 100),
			p.asymmetry(w.profile[:len(w.trend)]),
			square(math.Log(p.contrast() / w.strongest(i, spacing))),
		}
	}
	w.odds()
}

// odds turns looks into evidence by the model.
func (w *Work) odds() {
	for i := range w.places {
		p := &w.places[i]
		sum := 0.0
		for k, b := range w.model.Evidence {
			sum += float64(b * p.looks[k])
		}
		p.odds, p.bound = math.Exp(min(max(sum, -8), 6)), sum < -8 || sum > 6
	}
}

// asymmetry is how much darker it is on the inner side than on the outer, two widths away,
// beside the contrast: an annulus builds up slowly and ends sharply, a check need not.
func (p *place) asymmetry(profile []float64) float64 {
	last := len(profile) - 1
	sum := 0.0
	for k := 1; k <= 4; k++ {
		off := 0.5 * float64(k) * p.ridge.Width
		in, out := max(int(p.ridge.At-off+0.5), 0), min(int(p.ridge.At+off+0.5), last)
		sum += profile[in] - profile[out]
	}
	return min(max(sum/4/p.contrast(), -2), 2)
}

// contrast is the strength freed of the width: of a wide and a narrow ridge equally
// dark, the wide one is the stronger.
func (p *place) contrast() float64 { return p.ridge.Strength / math.Sqrt(p.ridge.Width) }

// strongest is the contrast of the strongest place near place i.
func (w *Work) strongest(i int, near float64) float64 {
	most := 0.0
	for j := i; j >= 0 && w.places[i].um-w.places[j].um < near; j-- {
		most = max(most, w.places[j].contrast())
	}
	for j := i; j < len(w.places) && w.places[j].um-w.places[i].um < near; j++ {
		most = max(most, w.places[j].contrast())
	}
	return most
}
