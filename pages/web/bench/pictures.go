package bench

import (
	"context"
	"errors"
	"fmt"
	"mime/multipart"
	"path"
	"slices"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/finding"
	"earstone/programme/record"
	"earstone/store/history"
	"earstone/store/pictures"
)

// picturesView is the page on which pictures are taken in.
type picturesView struct {
	Fields []frame.Field
	Took   []took
	Kept   int
	Wrong  string
}

// took is what became of one file.
type took struct{ File, Preparation, Says, Do string }

// mostFiles bounds one form.
const mostFiles = 500

// Pictures shows the empty form.
func (p *Page) Pictures(r *frame.Request) (frame.Answer, error) {
	return picturesPage.Show("Pictures in", picturesView{Fields: pictureFields(r, nil)}), nil
}

func pictureFields(r *frame.Request, scale []frame.Problem) []frame.Field {
	light := frame.Field{Name: "light", Label: "Light", Kind: "choice", Span: "wide"}
	for _, word := range []string{"transmitted", "reflected"} {
		light.Options = append(light.Options, frame.Option{Value: word, Text: map[string]string{"transmitted": "shines through", "reflected": "falls on"}[word], Chosen: r.Typed("light") == word || word == "transmitted" && r.Typed("light") == ""})
	}
	return []frame.Field{
		{Name: "um_per_pixel", Label: "Scale, µm per pixel", Value: r.Typed("um_per_pixel"), Number: true, Problems: scale,
			Hint: "From a stage micrometer under the same objective. Empty: what the file says, if it says any."}, light}
}

// TakePictures takes files in, each for the preparation whose label stands in its name.
func (p *Page) TakePictures(r *frame.Request) (frame.Answer, error) {
	v := picturesView{}
	scale := strings.ReplaceAll(strings.TrimSpace(r.Typed("um_per_pixel")), ",", ".")
	_, typed := form.Read[record.Image](form.Cells{"image": "-", "preparation": "-", "um_per_pixel": scale})
	problems := frame.Problems(typed.Found, "um_per_pixel")
	var headers []*multipart.FileHeader
	if r.MultipartForm != nil {
		headers = append(r.MultipartForm.File["file"], r.MultipartForm.File["folder"]...)
	}
	headers = slices.DeleteFunc(headers, func(h *multipart.FileHeader) bool { return h.Size == 0 })
	v.Fields = pictureFields(r, problems)
	switch {
	case len(headers) == 0:
		v.Wrong = "No picture is chosen."
	case len(headers) > mostFiles:
		v.Wrong = fmt.Sprintf("These are %d files; take in at most %d at once.", len(headers), mostFiles)
	}
	if v.Wrong != "" || len(problems) > 0 {
		return picturesPage.Again("Pictures in", v), nil
	}
	for _, h := range headers {
		one, err := p.take(r, h, scale)
		if err != nil {
			return frame.Answer{}, err
		}
		if one.Do == "" {
			v.Kept++
		}
		v.Took = append(v.Took, one)
	}
	return picturesPage.Show("Pictures in", v), nil
}

// take takes one file in.
func (p *Page) take(r *frame.Request, h *multipart.FileHeader, scale string) (took, error) {
	name := path.Base(strings.ReplaceAll(h.Filename, "\\", "/"))
	one := took{File: name}
	of, err := p.preparationIn(r.Context(), name)
	if err != nil {
		return one, err
	}
	if of == nil {
		one.Says, one.Do = "No preparation has a label that stands in this name.", "Rename the file, for instance to QB-00412-T-L1.tif, and send it again."
		return one, nil
	}
	one.Preparation = of["preparation"]
	in, err := h.Open()
	if err != nil {
		return one, fmt.Errorf("opening a picture that was sent: %w", err)
	}
	defer in.Close()
	pic, err := p.pictures.Take(r.Context(), in)
	var refused *pictures.Refusal
	if errors.As(err, &refused) {
		one.Says, one.Do = refusals[refused.Reason], "It was not taken. TIFF, PNG and JPEG of at most 100 million pixels are."
		return one, nil
	}
	if err != nil {
		return one, fmt.Errorf("taking a picture in: %w", err)
	}
	return p.imageOf(r, one, of, pic, scale)
}

var refusals = map[pictures.Reason]string{
	pictures.NotPicture: "This is no picture.", pictures.Unsupported: "This kind of picture is not read.", pictures.TooLarge: "The picture has too many pixels.",
	pictures.TooDeep: "The picture would fill the memory.", pictures.TooHeavy: "The file is too large.", pictures.Squeezed: "The file says that it is larger than it can be.",
	pictures.Damaged: "The file is cut short or garbled.",
}

// imageOf writes down that a picture is of a preparation; the same picture is so once.
func (p *Page) imageOf(r *frame.Request, one took, of history.Fields, pic pictures.Picture, scale string) (took, error) {
	before, err := p.store.Where(r.Context(), history.Query{Kind: history.Images, Field: "preparation", Value: one.Preparation})
	if err != nil {
		return one, fmt.Errorf("reading the pictures of %s: %w", one.Preparation, err)
	}
	names := map[string]bool{}
	for _, b := range before {
		f := b.Fields()
		if f["sha256"] == pic.Hash.String() {
			one.Says = "This very picture was there already."
			return one, nil
		}
		names[f["image"]] = true
	}
	name := ""
	for n := 1; name == "" || names[name]; n++ {
		name = fmt.Sprintf("%s-P%d", one.Preparation, n)
	}
	_, typed := form.Read[record.Image](form.Cells{"image": name, "preparation": one.Preparation, "file": one.File, "sha256": pic.Hash.String(), "um_per_pixel": scale, "light": r.Typed("light")})
	for _, f := range typed.Found {
		if f.Severity == finding.Error {
			problem := frame.ProblemOf(f)
			one.Says, one.Do = problem.Says, problem.Do
			return one, nil
		}
	}
	err = p.store.Append(r.Context(), &history.Entry{Kind: history.Images, Fields: typed.Fields, Raw: typed.Raw, Who: r.By(), When: p.now()},
		&history.Entry{Kind: history.Custody, Who: r.By(), When: p.now(), Fields: history.Fields{"fish": of["fish"], "side": of["side"], "step": "imaged", "on": p.desk.Today().String()}})
	if err != nil {
		return one, fmt.Errorf("keeping that a picture is of %s: %w", one.Preparation, err)
	}
	one.Says = fmt.Sprintf("%d × %d pixels", pic.Width, pic.Height)
	if um, known := pic.UmPerPixel(typedScale(typed.Fields)); known {
		one.Says += fmt.Sprintf(", %.4g µm per pixel", um)
	} else {
		one.Says += ", without a scale: no annuli can be suggested on it"
	}
	return one, nil
}

func typedScale(f history.Fields) (um float64) {
	_, _ = fmt.Sscan(f["um_per_pixel"], &um) // empty: none was given
	return um
}

// preparationIn is the preparation whose label stands in a file's name, nil when none does:
// the longest label that begins and ends with a part of the name, or the label of a fish
// that has a single preparation.
func (p *Page) preparationIn(ctx context.Context, name string) (history.Fields, error) {
	for _, text := range spans(strings.TrimSuffix(name, path.Ext(name))) {
		for _, field := range []string{"preparation", "fish"} {
			found, err := p.store.Where(ctx, history.Query{Kind: history.Preparations, Field: field, Value: text, Most: 2})
			if err != nil {
				return nil, fmt.Errorf("looking for the preparation of a picture: %w", err)
			}
			if len(found) == 1 {
				return found[0].Fields(), nil
			}
		}
	}
	return nil, nil
}

// spans are the texts within a name that begin and end at a sign between words, as typed
// and in capitals, the longest first; of a name with very many parts the first ones.
func spans(name string) (all []string) {
	var cuts []int
	for i := 0; i <= len(name); i++ {
		if i == 0 || i == len(name) || strings.ContainsRune(" -_.()#", rune(name[i])) || strings.ContainsRune(" -_.()#", rune(name[i-1])) {
			cuts = append(cuts, i)
		}
	}
	cuts = cuts[:min(len(cuts), 16)]
	for i, from := range cuts {
		for _, to := range cuts[i+1:] {
			if text := name[from:to]; len(strings.Trim(text, " -_.()#")) == len(text) && len(text) > 2 {
				all = append(all, text, strings.ToUpper(text))
			}
		}
	}
	slices.SortStableFunc(all, func(a, b string) int { return len(b) - len(a) })
	return slices.Compact(all)
}
