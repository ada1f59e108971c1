package phone

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"

	"earstone/pages/web/frame"
	"earstone/programme/label"
	"earstone/store/history"
	"earstone/store/pictures"
)

// The bounds of a photograph.
const (
	PhotographBytes = 4 << 20
	mostWide        = 2048 // pixels of either side
	mostOfCard      = 4    // photographs of a card
)

// shows are what a photograph may be of.
var shows = map[string]bool{"card": true, "tape": true}

// Photograph keeps a photograph of a card that is kept.
func (p *Page) Photograph(r *frame.Request) (frame.Answer, error) {
	kit, _, err := p.kit(r, r.Header.Get("X-Kit-Code"), 1)
	if err != nil {
		return answer(nil, err)
	}
	one, err := p.keepPhotograph(r, kit)
	if err != nil {
		return answer(nil, err)
	}
	one.ID = r.URL.Query().Get("id")
	return answer(one, nil)
}

func (p *Page) keepPhotograph(r *frame.Request, kit label.Kit) (outcome, error) {
	ask := r.URL.Query()
	id, err := parseID(ask.Get("id"))
	card, errCard := parseID(ask.Get("card"))
	if err != nil || errCard != nil || !shows[ask.Get("of")] || r.Header.Get("Content-Type") != "image/jpeg" {
		return outcome{}, errForm
	}
	fish, err := p.cardOf(r, card, kit)
	if err != nil || fish == "" {
		return outcome{Refused: "no_card"}, err
	}
	before, err := p.Store.History(r.Context(), id)
	switch {
	case err == nil && before[0].Who == by(kit) && before[0].Kind == history.Photographs && (before[0].Removed || before[0].Fields["fish"] == fish):
		return outcome{Kept: true}, nil
	case err == nil:
		return outcome{}, errForm
	case !errors.Is(err, history.ErrNotFound):
		return outcome{}, err
	}
	if there, err := p.Store.Where(r.Context(), history.Query{Kind: history.Photographs, Field: "fish", Value: fish, Most: mostOfCard}); err != nil || len(there) == mostOfCard {
		return outcome{Refused: "photographs"}, err
	}
	picture, refused, err := p.picture(r)
	if refused != "" || err != nil {
		return outcome{Refused: refused}, err
	}
	err = p.Store.Append(r.Context(), &history.Entry{ID: id, Subject: id, Kind: history.Photographs, Who: by(kit), When: p.Now(),
		Fields: history.Fields{"fish": fish, "of": ask.Get("of"), "sha256": picture.Hash.String()}})
	if err != nil && !errors.Is(err, history.ErrStale) { // stale: the same one came in this moment
		return outcome{}, fmt.Errorf("keeping a photograph of kit %s: %w", kit.Kit, err)
	}
	return outcome{Kept: true}, nil
}

// cardOf is the label of a card that a kit sent; empty when it sent none such.
func (p *Page) cardOf(r *frame.Request, card history.ID, kit label.Kit) (string, error) {
	entries, err := p.Store.History(r.Context(), card)
	if errors.Is(err, history.ErrNotFound) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("looking for the card of a photograph: %w", err)
	}
	if entries[0].Who != by(kit) || entries[0].Kind != history.Fish {
		return "", nil
	}
	now, err := p.Store.Current(r.Context(), card)
	if err != nil {
		return "", fmt.Errorf("looking for the card of a photograph: %w", err)
	}
	if now.Removed() {
		return "", nil
	}
	return now.Fields()["fish"], nil
}

// picture takes in the JPEG that was sent, without what a camera wrote beside the picture.
func (p *Page) picture(r *frame.Request) (pictures.Picture, string, error) {
	if p.Pictures == nil {
		return pictures.Picture{}, "photographs", nil
	}
	content, err := io.ReadAll(r.Body)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return pictures.Picture{}, "", errLarge
	case err != nil:
		return pictures.Picture{}, "", errForm
	}
	bare, width, height, ok := bareJPEG(content)
	switch {
	case !ok:
		return pictures.Picture{}, "picture", nil
	case width > mostWide || height > mostWide:
		return pictures.Picture{}, "large", nil
	}
	taken, err := p.Pictures.Take(r.Context(), bytes.NewReader(bare))
	var no *pictures.Refusal
	if errors.As(err, &no) {
		return pictures.Picture{}, "picture", nil
	}
	return taken, "", err
}

// bareJPEG is a JPEG without comments and without what applications wrote into it, the
// position of the camera among it, and its size. ok is false when it is none, or has
// anything behind its end.
//
// Segments are those of ISO/IEC 10918-1, annex B (from memory): FF, a marker, and a length
// of two bytes that counts itself. APP0 and APP14 stay: they tell the colours.
func bareJPEG(in []byte) (bare []byte, width, height int, ok bool) {
	if len(in) < 4 || in[0] != 0xff || in[1] != 0xd8 {
		return nil, 0, 0, false
	}
	bare = append(bare, in[:2]...)
	for at := 2; at+4 <= len(in) && in[at] == 0xff; {
		marker, n := in[at+1], int(in[at+2])<<8|int(in[at+3])
		if n < 2 || at+2+n > len(in) {
			return nil, 0, 0, false
		}
		segment := in[at : at+2+n]
		switch {
		case marker == 0xda: // the picture itself, to the end
			end := bytes.LastIndex(in, []byte{0xff, 0xd9})
			return append(bare, in[at:max(at, end+2)]...), width, height, width > 0 && height > 0 && end == len(in)-2
		case marker == 0xfe || marker > 0xe0 && marker <= 0xef && marker != 0xee:
		default:
			bare = append(bare, segment...)
		}
		if marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc && n >= 7 {
			height, width = int(segment[5])<<8|int(segment[6]), int(segment[7])<<8|int(segment[8])
		}
		at += 2 + n
	}
	return nil, 0, 0, false
}

// Original sends a photograph to somebody of the programme.
func (p *Page) Original(r *frame.Request) (frame.Answer, error) {
	id, err := history.ParseID(r.PathValue("photograph"))
	if err != nil || !id.Known() || p.Pictures == nil {
		return frame.Answer{}, frame.NotThere
	}
	one, err := p.Store.Current(r.Context(), id)
	if err != nil {
		return frame.Answer{}, err
	}
	if one.Kind != history.Photographs || one.Removed() {
		return frame.Answer{}, frame.NotThere
	}
	hash, err := pictures.ParseHash(one.Fields()["sha256"])
	if err != nil {
		return frame.Answer{}, frame.NotThere
	}
	from, err := p.Pictures.Original(hash)
	if errors.Is(err, pictures.ErrNotFound) {
		return frame.Answer{}, frame.NotThere
	}
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading a photograph: %w", err)
	}
	defer from.Close()
	content, err := io.ReadAll(from)
	if err != nil {
		return frame.Answer{}, fmt.Errorf("reading a photograph: %w", err)
	}
	return frame.Send("image/jpeg", content), nil
}
