package read

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"math"
	"net/http"
	"strconv"

	"earstone/pages/web/frame"
	"earstone/reading/annuli"
	"earstone/reading/sitting"
	"earstone/reading/transect"
	"earstone/store/history"
	"earstone/store/pictures"
)

// shown is the picture of a turn.
type shown struct {
	sitting.Shown
	hash pictures.Hash
}

// picture is what may be shown of a turn's picture; false when it has none.
func (p *Page) picture(ctx context.Context, turn sitting.Turn) (shown, bool, error) {
	if turn.Image == "" {
		return shown{}, false, nil
	}
	found, err := p.store.Where(ctx, history.Query{Kind: history.Images, Field: "image", Value: turn.Image, Most: 1})
	if err != nil {
		return shown{}, false, fmt.Errorf("looking for the picture of a turn: %w", err)
	}
	if len(found) == 0 {
		return shown{}, false, nil
	}
	f := found[0].Fields()
	hash, err := pictures.ParseHash(f["sha256"])
	if err != nil {
		return shown{}, false, nil
	}
	about, err := p.pictures.Picture(hash)
	if errors.Is(err, pictures.ErrNotFound) {
		return shown{}, false, nil
	}
	if err != nil {
		return shown{}, false, fmt.Errorf("reading the picture of a turn: %w", err)
	}
	given, _ := strconv.ParseFloat(f["um_per_pixel"], 64) // empty: the file's own
	scale, _ := about.UmPerPixel(given)
	return shown{sitting.Shown{Width: about.Width, Height: about.Height, UmPerPixel: scale, Bright: f["light"] == "reflected"}, hash}, true, nil
}

// Tile is a part of the picture of a turn, asked for by the ticket.
func (p *Page) Tile(r *frame.Request) (frame.Answer, error) {
	d, turn, err := p.turn(r)
	if err != nil {
		return frame.Answer{}, err
	}
	pic, there, err := p.picture(r.Context(), turn)
	if err != nil {
		return frame.Answer{}, err
	}
	var at [3]int
	for i, name := range []string{"level", "col", "row"} {
		if at[i], err = strconv.Atoi(r.PathValue(name)); err != nil || !there {
			return frame.Answer{}, errNoTile
		}
	}
	tile, err := p.pictures.Tile(pic.hash, at[0], at[1], at[2])
	if errors.Is(err, pictures.ErrNotFound) {
		return frame.Answer{}, errNoTile
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading a tile for %s: %w", d.label, err)
	}
	return frame.Send("image/jpeg", tile), nil
}

var (
	errNoTile = frame.Trouble{Status: http.StatusNotFound, Says: "There is no such part of the picture.", Do: "Go back to the sitting."}
	errNoAxis = frame.Trouble{Status: http.StatusUnprocessableEntity, Says: "This is no axis.", Do: "Set the core, then the edge."}
)

// mostValues bounds the profile that is sent; a longer axis is read in wider steps.
const mostValues = 1600

// Along answers an axis with the brightness along it, and with suggested annuli where this
// turn shows any. That they were sent is kept before they are.
func (p *Page) Along(r *frame.Request) (frame.Answer, error) {
	d, turn, err := p.turn(r)
	if err != nil {
		return frame.Answer{}, err
	}
	pic, there, err := p.picture(r.Context(), turn)
	if err != nil {
		return frame.Answer{}, err
	}
	work, err := parseWork(r.Typed("work"))
	if err != nil || !there {
		return frame.Answer{}, errNoAxis
	}
	axis, err := transect.Through(work.Axis)
	if err != nil || axis.Length() > 2*float64(pic.Width+pic.Height) || axis.Length() < 8 {
		return frame.Answer{}, errNoAxis
	}
	grey, err := p.greyOf(r.Context(), pic.hash)
	if err != nil {
		return frame.Answer{}, err
	}
	out := profile(grey, axis)
	if d.offers && !turn.Unaided {
		if out.Offers = offers(grey, axis, pic.Shown); len(out.Offers) > 0 {
			if err := p.change(r, d, turn.Ticket, func(w *draft) { w.saw = true }); err != nil {
				return frame.Answer{}, err
			}
		}
	}
	data, err := json.Marshal(out)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("writing a profile: %w", err)
	}
	return frame.Send("application/json", data), nil
}

// profile is the brightness along an axis, rings brought into line.
func profile(grey *image.Gray16, axis transect.Axis) sitting.Along {
	var b transect.Band
	b.Read(grey, axis, transect.Swath{Step: max(1, axis.Length()/mostValues)})
	var w transect.Work
	light := make([]float64, b.Along)
	w.Profile(light, &b, w.Lean(&b, 4), 0, b.Across)
	out := sitting.Along{Step: b.Step, Light: light, Offers: []sitting.Offer{}}
	for i := range light {
		at, _ := axis.At(float64(i) * b.Step)
		light[i] = math.Round(light[i]*1e4) / 1e4
		out.X, out.Y = append(out.X, math.Round(at.X*10)/10), append(out.Y, math.Round(at.Y*10)/10)
	}
	return out
}

// offers are suggested annuli; none where nothing can be suggested.
func offers(grey *image.Gray16, axis transect.Axis, pic sitting.Shown) []sitting.Offer {
	all := []sitting.Offer{}
	var b transect.Band
	section, err := annuli.Of(&b, grey, axis, pic.UmPerPixel, pic.Bright)
	if err != nil {
		return all // a picture without scale
	}
	found, err := annuli.NewWork(annuli.Default()).Suggest(section)
	if err != nil {
		return all // an axis too short, or nothing to be seen along it
	}
	for _, m := range found.Marks {
		at, _ := axis.At(m.At)
		all = append(all, sitting.Offer{X: at.X, Y: at.Y, Confidence: math.Round(m.Confidence*100) / 100})
	}
	return all
}

// greyOf is a picture at full depth. The one that was read last is at hand: a reader sets the axis of
// one picture several times. One is decoded at a time.
func (p *Page) greyOf(ctx context.Context, hash pictures.Hash) (*image.Gray16, error) {
	p.grey.Lock()
	defer p.grey.Unlock()
	if p.seen != nil && p.of == hash {
		return p.seen, nil
	}
	grey, err := p.pictures.Grey(ctx, hash)
	if err != nil {
		return nil, fmt.Errorf("reading a picture at full depth: %w", err)
	}
	p.of, p.seen = hash, grey
	return grey, nil
}
