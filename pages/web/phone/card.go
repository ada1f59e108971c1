package phone

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/pages/web/intake"
	"earstone/pages/words"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/store/history"
)

// The bounds of what a phone sends at once.
const (
	CardBytes = 64 << 10
	mostCards = 20
	longest   = 60  // signs of a cell
	remark    = 500 // signs of a remark
)

// card is one card as a phone sends it.
type card struct {
	ID    string     `json:"id"`
	Cells form.Cells `json:"cells"`
}

// outcome is what became of a card. Kept: it lies on the disk here, now or from before.
type outcome struct {
	ID      string   `json:"id"`
	Kept    bool     `json:"kept"`
	Refused string   `json:"refused,omitempty"`
	Says    []string `json:"says,omitempty"` // what is wrong with it, in English
}

// cells are the columns that a card of a phone may fill.
var cells = map[string]bool{"fish": true, "species": true, "caught_on": true, "area": true, "gear": true, "length": true, "length_unit": true,
	"length_kind": true, "weight": true, "weight_unit": true, "weight_form": true, "sex": true, "remark": true, stones: true}

// stones says which stones are in the vial.
const stones = "stones"

// Cards keeps cards, each by itself: one that can't be kept holds up no other.
func (p *Page) Cards(r *frame.Request) (frame.Answer, error) {
	var sent struct {
		Code  string `json:"code"`
		Cards []card `json:"cards"`
	}
	if err := read(r, &sent); err != nil {
		return answer(nil, err)
	}
	if len(sent.Cards) == 0 || len(sent.Cards) > mostCards {
		return answer(nil, errForm)
	}
	kit, kits, err := p.kit(r, sent.Code, len(sent.Cards))
	if err != nil {
		return answer(nil, err)
	}
	var told struct {
		Cards []outcome `json:"cards"`
	}
	for _, c := range sent.Cards {
		one, err := p.keep(r.Context(), c, kit, kits)
		if err != nil {
			return frame.Answer{}, fmt.Errorf("keeping a card of kit %s: %w", kit.Kit, err)
		}
		one.ID = c.ID
		told.Cards = append(told.Cards, one)
	}
	return answer(told, nil)
}

// keep keeps one card, unless it is here already.
func (p *Page) keep(ctx context.Context, c card, kit label.Kit, kits []label.Kit) (outcome, error) {
	id, err := parseID(c.ID)
	if err != nil {
		return outcome{Refused: "form"}, nil
	}
	code, refused := read1(c.Cells)
	if refused != "" {
		return outcome{Refused: refused}, nil
	}
	typed, err := p.typed(ctx, c.Cells, code, kit)
	if err != nil {
		return outcome{}, err
	}
	if before, there, err := p.before(ctx, id, kit, typed); there || err != nil {
		return before, err
	}
	if !mayUse(code, kit, kits) {
		return outcome{Refused: "other_kit"}, nil
	}
	if typed.Grave() {
		return outcome{Refused: "wrong", Says: wrong(typed)}, nil
	}
	entries := intake.Entries(typed, sidesOf[c.Cells[stones]], by(kit), p.Now())
	entries[0].ID, entries[0].Subject = id, id
	entries = announced(entries)
	err = p.Store.Append(ctx, entries...)
	switch {
	case errors.Is(err, history.ErrTaken):
		return outcome{Refused: "taken"}, nil
	case errors.Is(err, history.ErrStale): // the same card came a second time in this moment
		before, _, err := p.before(ctx, id, kit, typed)
		return before, err
	case err != nil:
		return outcome{}, err
	}
	return outcome{Kept: true}, nil
}

// announced leaves out that the stones came: a card is here long before its vial.
func announced(entries []*history.Entry) (all []*history.Entry) {
	for _, e := range entries {
		if e.Kind != history.Custody {
			all = append(all, e)
		}
	}
	return all
}

// sidesOf are the stones that a vial holds, by the word of the card.
var sidesOf = map[string][]string{"both": {"L", "R"}, "one": {"unknown"}, "none": {}, "": {}}

// by is the name under which the cards of a kit are written.
func by(kit label.Kit) string { return "kit " + kit.Kit }

// parseID reads an identity that a phone made: of version 7, as those of entries are.
func parseID(text string) (history.ID, error) {
	id, err := history.ParseID(text)
	if err == nil && (!id.Known() || id[6]>>4 != 7 || id[8]>>6 != 2) {
		err = errForm
	}
	return id, err
}

// read1 holds the form of a card against what a phone may say, and reads its label.
func read1(typed form.Cells) (label.Code, string) {
	for name, text := range typed {
		most := longest
		if name == "remark" {
			most = remark
		}
		if !cells[name] || len([]rune(text)) > most {
			return label.Code{}, "form"
		}
	}
	if _, known := sidesOf[typed[stones]]; !known {
		return label.Code{}, "form"
	}
	code := label.Parse(typed["fish"]).Code
	if !code.Known() {
		return code, "label"
	}
	return code, ""
}

// typed is a card as the programme reads it. An area that no list holds stays as it was
// written, since a card adds to no list.
func (p *Page) typed(ctx context.Context, said form.Cells, code label.Code, kit label.Kit) (form.Typed, error) {
	own := form.Cells{}
	for name, text := range said {
		if text = strings.TrimSpace(words.Plain(text)); text != "" && name != stones {
			own[name] = text
		}
	}
	lists, err := p.Desk.Lists(ctx)
	if err != nil {
		return form.Typed{}, err
	}
	if codes := lists.Settings.Species; own["species"] == "" && len(codes) == 1 {
		own["species"] = string(codes[0])
	}
	areas, err := p.areas(ctx)
	if err != nil {
		return form.Typed{}, err
	}
	written := own["area"]
	if own["area"] = areaOf(areas, written); own["area"] == "" {
		delete(own, "area")
	}
	if kit.Contributor != "" {
		own["contributor"] = kit.Contributor
	}
	t, err := p.Desk.Fish(ctx, own)
	if err != nil {
		return form.Typed{}, err
	}
	t.New = nil
	if written != t.Fields["area"] && written != "" {
		t.Raw["area"] = written
	}
	if was := strings.TrimSpace(words.Plain(said["fish"])); was != code.String() {
		t.Raw["fish"] = was
	}
	return t, nil
}

// wrong is what forbids keeping a card, in words.
func wrong(t form.Typed) (says []string) {
	for _, f := range t.Found {
		if f.Severity == finding.Error {
			says = append(says, strings.ReplaceAll(f.Place.Column, "_", " ")+": "+words.English.Says(f)+" "+words.Remedy(f))
		}
	}
	return says
}

// before is what became of a card that was sent already. A phone learns this of what its
// own kit sent alone: of any other record it is told nothing but that the identity is not
// its own.
func (p *Page) before(ctx context.Context, id history.ID, kit label.Kit, now form.Typed) (o outcome, there bool, err error) {
	entries, err := p.Store.History(ctx, id)
	if errors.Is(err, history.ErrNotFound) {
		return outcome{}, false, nil
	}
	if err != nil {
		return outcome{}, false, err
	}
	first := entries[0]
	switch {
	case first.Who != by(kit) || first.Kind != history.Fish || first.ID != id:
		return outcome{Refused: "form"}, true, nil
	case !first.Removed && !sameCard(first.Fields, now.Fields):
		return outcome{Refused: "differs"}, true, nil
	}
	return outcome{Kept: true}, true, nil
}

// sameCard tells whether two cards say the same, as far as that is their own: species, area
// and contributor are read by lists of the programme, which may have changed between.
func sameCard(a, b history.Fields) bool {
	for name := range cells {
		if name != "species" && name != "area" && a[name] != b[name] {
			return false
		}
	}
	return true
}
