package phone

import (
	"context"
	"crypto/subtle"
	"fmt"
	"maps"
	"slices"

	"earstone/pages/paper"
	"earstone/pages/web/frame"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/history"
)

func sortedNames(files map[string]file) []string { return slices.Sorted(maps.Keys(files)) }

// kit finds the kit whose code a phone sends. Wrong codes are counted by the address they
// come from, right ones by their kit as well.
func (p *Page) kit(r *frame.Request, typed string, n int) (label.Kit, []label.Kit, error) {
	from := p.Address(r.Request)
	if !p.Due(OfGuesses, from, 0) || !p.Due(OfAddress, from, n) {
		return label.Kit{}, nil, errPace
	}
	code, ok := label.ParseKitCode(typed)
	if !ok {
		p.Due(OfGuesses, from, 1)
		return label.Kit{}, nil, errCode
	}
	var kits []label.Kit
	if p.Kits != nil {
		var err error
		if kits, err = p.Kits(); err != nil {
			return label.Kit{}, nil, fmt.Errorf("looking for a kit: %w", err)
		}
	}
	for _, k := range kits {
		if !k.PhoneCode.Known() || subtle.ConstantTimeCompare([]byte(k.PhoneCode.String()), []byte(code.String())) == 0 {
			continue
		}
		switch {
		case k.CancelledOn.Known():
			return label.Kit{}, nil, errCancelled
		case !p.Due(OfKit, k.Kit, n):
			return label.Kit{}, nil, errPace
		}
		return k, kits, nil
	}
	p.Due(OfGuesses, from, 1)
	return label.Kit{}, nil, errNoKit
}

// mayUse tells whether a card with a label may come by a kit: its own labels, and those
// of a cancelled kit that went to the same contributor, since fish may have been labelled
// from it before.
func mayUse(code label.Code, kit label.Kit, kits []label.Kit) bool {
	if kit.Codes.Holds(code) {
		return true
	}
	return slices.ContainsFunc(kits, func(k label.Kit) bool {
		return k.CancelledOn.Known() && k.Contributor != "" && k.Contributor == kit.Contributor && k.Codes.Holds(code)
	})
}

// about is what a phone is told of its kit: what stands on the vials and cards in it.
type about struct {
	Kit     string   `json:"kit"`
	First   string   `json:"first"`
	Last    string   `json:"last"`
	Areas   []string `json:"areas"`
	Species []string `json:"species"`
	Unit    string   `json:"unit"`
}

// Kit tells a phone what its cards may say.
func (p *Page) Kit(r *frame.Request) (frame.Answer, error) {
	var sent struct {
		Code string `json:"code"`
	}
	if err := read(r, &sent); err != nil {
		return answer(nil, err)
	}
	kit, _, err := p.kit(r, sent.Code, 1)
	if err != nil {
		return answer(nil, err)
	}
	lists, err := p.Desk.Lists(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	areas, err := p.areas(r.Context())
	if err != nil {
		return frame.Answer{}, err
	}
	a := about{Kit: kit.Kit, First: kit.Codes.First.String(), Last: kit.Codes.Last.String(), Areas: paper.PublicAreas(areas), Species: []string{}, Unit: lists.Settings.LengthBin.Unit}
	for _, s := range lists.Settings.Species {
		a.Species = append(a.Species, string(s))
	}
	return answer(a, nil)
}

// areas are the named areas of the programme.
func (p *Page) areas(ctx context.Context) (all []record.Area, err error) {
	err = p.Store.Each(ctx, history.Areas, func(r *history.Record) error {
		f := r.Fields()
		all = append(all, record.Area{Area: f["area"], Name: f["name"], Parent: f["parent"], PublicName: f["public_name"]})
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading the areas: %w", err)
	}
	return all, nil
}

// areaOf is the area that a card names as the public knows it, or by its own name; empty
// when there is none.
func areaOf(areas []record.Area, name string) string {
	for _, says := range []func(record.Area) string{
		func(a record.Area) string { return a.PublicName },
		func(a record.Area) string { return a.Name },
		func(a record.Area) string { return a.Area },
	} {
		if at := slices.IndexFunc(areas, func(a record.Area) bool { return name != "" && says(a) == name }); at >= 0 {
			return areas[at].Area
		}
	}
	return ""
}
