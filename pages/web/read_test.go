package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image/png"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"earstone/plan/section"
	"earstone/programme/record"
	"earstone/reading/sitting"
	"earstone/store/accounts"
	"earstone/store/history"
)

// world is what a reader must not know of the fish of a sitting.
type world struct {
	length, area, counts string
	day                  int
	reader               string // of the other counts
	quiet                bool   // sections without grain, which make small pictures
}

var (
	here      = world{length: "217.3", area: "Skell", counts: "23", day: 11, reader: "mara"}
	elsewhere = world{length: "88.9", area: "Dunmarrow", counts: "3", day: 27, reader: "ingo"}
)

// sections keeps n fish with a drawn section each, the last of them of the reference
// collection, and gives the truth of each.
func (p *place) sections(t testing.TB, n int, w world) (drawn []section.Section) {
	t.Helper()
	ctx := context.Background()
	for i := 1; i <= n; i++ {
		code := codeOf(i)
		one := section.Draw(7, i, section.Settings{Least: 2, Most: 9, UmPerPixel: 4, Quiet: w.quiet})
		var file bytes.Buffer
		if err := png.Encode(&file, one.Picture); err != nil {
			t.Fatal(err)
		}
		pic, err := p.pictures.Take(ctx, &file)
		if err != nil {
			t.Fatal(err)
		}
		day := fmt.Sprintf("2031-07-%02d", w.day)
		prep := code + "-L1"
		p.keep(t, &history.Entry{Kind: history.Fish, Fields: history.Fields{"fish": code, "species": "BFT", "caught_on": day, "received_on": day, "area": w.area,
			"length": w.length, "length_unit": "cm", "length_kind": "curved_fork"}},
			&history.Entry{Kind: history.Stones, Fields: history.Fields{"fish": code, "side": "L", "condition": "whole"}},
			&history.Entry{Kind: history.Preparations, Fields: history.Fields{"preparation": prep, "fish": code, "side": "L", "kind": "section"}},
			&history.Entry{Kind: history.Images, Fields: history.Fields{"image": prep + "-P1", "preparation": prep, "file": prep + ".png", "sha256": pic.Hash.String(),
				"um_per_pixel": "4", "light": one.Light.String()}})
		if w.counts != "" {
			p.keep(t, &history.Entry{Kind: history.Readings, Fields: history.Fields{"reading": "R-" + code, "fish": code, "side": "L", "preparation": prep, "reader": w.reader,
				"read_at": day, "annuli": w.counts, "edge": "wide", "readability": "2"}})
		}
		if i == n {
			p.keep(t, &history.Entry{Kind: history.References, Fields: history.Fields{"label": prep, "preparation": prep}})
		}
		drawn = append(drawn, one)
	}
	return drawn
}

// sitting is a sitting of a known seed, the last section its control.
func (p *place) sitting(t testing.TB, label, reader string, n int, suggestions bool) sitting.Sitting {
	t.Helper()
	set := sitting.Set{Reader: record.ReaderID(reader)}
	for i := 1; i <= n; i++ {
		one := sitting.Item{Preparation: codeOf(i) + "-L1", Image: codeOf(i) + "-L1-P1"}
		if i == n {
			set.Controls = append(set.Controls, one)
		} else {
			set.Read = append(set.Read, one)
		}
	}
	text, err := json.Marshal(set)
	must0(t, err)
	const seed = 20311
	f := history.Fields{"label": label, "reader": reader, "seed": fmt.Sprint(seed), "rows": string(text)}
	if suggestions {
		f["suggestions"] = "true"
	}
	p.keep(t, &history.Entry{Kind: history.Sittings, Fields: f})
	return sitting.Deal(set, seed)
}

// wire keeps every byte that a browser is sent.
type wire struct {
	http.RoundTripper
	sent *bytes.Buffer
}

func (w wire) RoundTrip(r *http.Request) (*http.Response, error) {
	got, err := w.RoundTripper.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	body, err := io.ReadAll(got.Body)
	if err != nil {
		return nil, err
	}
	if err := got.Body.Close(); err != nil {
		return nil, err
	}
	fmt.Fprintf(w.sent, "%s %s\n%s\n", r.Method, r.URL.Path, got.Status)
	for _, name := range []string{"Location", "Content-Type", "Content-Disposition", "Etag", "Last-Modified", "Link"} {
		fmt.Fprintf(w.sent, "%s: %s\n", name, got.Header.Get(name))
	}
	w.sent.Write(body)
	got.Body = io.NopCloser(bytes.NewReader(body))
	return got, nil
}

var ticketIn = regexp.MustCompile(`/read/S-test/([a-z0-9]{8})$`)

// through goes through a sitting as a browser does and gives every byte that it was sent.
func (p *place) through(t *testing.T, drawn []section.Section) string {
	t.Helper()
	v := p.signedIn(t, "odd")
	var sent bytes.Buffer
	v.Client.Transport = wire{http.DefaultTransport, &sent}
	v.ask("/")
	v.ask("/read")
	for range drawn {
		_, _, h := v.ask("/read/S-test")
		at := h.Get("Location")
		if !ticketIn.MatchString(at) {
			t.Fatalf("a sitting leads to %q, want a turn", at)
		}
		status, page, _ := v.ask(at)
		if status != http.StatusOK {
			t.Fatalf("a turn is answered with %d", status)
		}
		for level := range 4 {
			for i := range 4 {
				v.ask(fmt.Sprintf("%s/tile/%d/%d/%d", at, level, i%2, i/2))
			}
		}
		var sheet struct{ Width, Height float64 }
		if err := json.Unmarshal([]byte(strings.ReplaceAll(between(page, `data-sheet="`, `"`), "&#34;", `"`)), &sheet); err != nil {
			t.Fatalf("reading the sheet of a turn: %v", err)
		}
		work := fmt.Sprintf(`{"axis":[{"X":20,"Y":%g},{"X":%g,"Y":%g}],"closed":true}`, sheet.Height/2, sheet.Width-20, sheet.Height/2)
		if status, body, _ := v.send(at+"/along", url.Values{"work": {work}}); status != http.StatusOK {
			t.Fatalf("an axis is answered with %d: %s", status, body)
		}
		v.send(at+"/work", url.Values{"work": {work}})
		v.send(at, url.Values{"do": {"keep"}, "annuli": {""}, "edge": {"narrow"}}) // refused: no count
		if status, body, _ := v.send(at, url.Values{"do": {"keep"}, "annuli": {"6"}, "edge": {"narrow"}, "readability": {"4"}}); status != http.StatusSeeOther {
			t.Fatalf("keeping a turn is answered with %d: %s", status, problems(body))
		}
		v.send(at, url.Values{"do": {"keep"}, "annuli": {"7"}, "edge": {"narrow"}}) // once more: changes nothing
	}
	_, last, _ := v.ask("/read/S-test")
	if !strings.Contains(last, "All") {
		t.Errorf("after all turns the sitting shows %q", text0(last))
	}
	return sent.String()
}

func text0(body string) string { return between(body, "<h1>", "</h1>") }

// TestNothingUnblinds: every byte of a sitting that reaches the reader's browser is the same
// whatever the fish's length, day, area and other counts are; and which turn is the control
// can't be told from any.
func TestNothingUnblinds(t *testing.T) {
	var sent [2]string
	for i, w := range []world{here, elsewhere} {
		p := serving(t, "")
		drawn := p.sections(t, 5, w)
		p.sitting(t, "S-test", "odd", 5, true)
		p.account(t, "admin", accounts.Administrator)
		p.account(t, "odd", accounts.Reader)
		sent[i] = p.through(t, drawn)
		for _, secret := range []string{codeOf(1), codeOf(5), "QB-", w.length, w.area, fmt.Sprintf("2031-07-%02d", w.day), fmt.Sprintf("%d July", w.day), w.reader + "<", "ontrol\"", "control\":"} {
			if strings.Contains(sent[i], secret) {
				at := strings.Index(sent[i], secret)
				t.Errorf("the reader's browser is sent %q: ...%s...", secret, sent[i][max(0, at-80):min(len(sent[i]), at+80)])
			}
		}
		if n := p.count(t, history.Readings); n != 10 {
			t.Errorf("after a sitting of 5 on 5 readings there are %d, want 10", n)
		}
	}
	if sent[0] != sent[1] {
		a, b := strings.Split(sent[0], "\n"), strings.Split(sent[1], "\n")
		for i := range min(len(a), len(b)) {
			if a[i] != b[i] {
				t.Fatalf("line %d of what the browser is sent depends on what it must not know:\n%.300s\n%.300s", i+1, a[i], b[i])
			}
		}
		t.Errorf("one browser is sent %d lines, the other %d", len(a), len(b))
	}
}

// TestReadingsSayHowTheyWereMade: blind, of a sitting, control or not, and whether suggested
// annuli were shown; never at a control, and not at each of the others.
func TestReadingsSayHowTheyWereMade(t *testing.T) {
	p := serving(t, "")
	drawn := p.sections(t, 12, here)
	p.sitting(t, "S-test", "odd", 12, true)
	p.account(t, "admin", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	p.through(t, drawn)
	shown, not, controls := 0, 0, 0
	for _, r := range p.where(t, history.Readings, "session", "S-test") {
		f := r.Fields()
		if f["blind"] != "true" || f["reader"] != "odd" || f["annuli"] != "6" || f["image"] == "" {
			t.Errorf("a reading is kept as %v", f)
		}
		switch {
		case f["control"] == "true":
			controls++
			if f["suggestions"] != "not shown" {
				t.Errorf("at a control suggestions are %q, want not shown", f["suggestions"])
			}
		case f["suggestions"] == "shown":
			shown++
		default:
			not++
		}
		if marks := p.where(t, history.Marks, "reading", f["reading"]); len(marks) != 2 {
			t.Errorf("a reading with an axis and no annuli marked has %d marks, want its core and its edge", len(marks))
		}
	}
	if controls != 1 || shown == 0 || not == 0 {
		t.Errorf("%d controls, %d with suggestions, %d without: want one, and some of both", controls, shown, not)
	}
}

func (p *place) where(t testing.TB, kind history.Kind, field, value string) []history.Record {
	t.Helper()
	found, err := p.store.Where(context.Background(), history.Query{Kind: kind, Field: field, Value: value})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// TestSittingWithoutScript: under the microscope, dealt by rule, put aside, gone on with; the
// tray tells whoever lays it out which preparation lies where.
func TestSittingWithoutScript(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 30)
	v := p.visitor(t)
	status, body, h := v.send("/read/deal", url.Values{"reader": {"mara"}, "choose": {"unread_by_reader"}, "area": {"Skell"}, "most": {"4"}, "controls": {"0"}, "how": {"glass"}})
	label, found := strings.CutPrefix(h.Get("Location"), "/read?dealt=")
	if status != http.StatusSeeOther || !found {
		t.Fatalf("dealing is answered with %d to %q: %s", status, h.Get("Location"), problems(body))
	}
	if _, _, h := v.send("/read/deal", url.Values{"reader": {"mara"}, "choose": {"unread_by_reader"}, "area": {"Skell"}, "most": {"50"}, "controls": {"0"}, "how": {"glass"}}); h.Get("Location") != "" {
		second, first := p.where(t, history.Sittings, "label", strings.TrimPrefix(h.Get("Location"), "/read?dealt=")), p.where(t, history.Sittings, "label", label)
		for _, name := range regexp.MustCompile(`QB-[A-Z0-9-]+-L1`).FindAllString(first[0].Fields()["rows"], -1) {
			if strings.Contains(second[0].Fields()["rows"], name) {
				t.Errorf("%s is dealt to one reader twice", name)
			}
		}
	}
	_, trayed, _ := v.ask("/read/" + label + "/tray")
	var seen []string
	for i := range 5 {
		_, _, h := v.ask("/read/" + label)
		at := h.Get("Location")
		seen = append(seen, at)
		_, body, _ := v.ask(at)
		if strings.Contains(between(body, "<main", "</main>"), "QB-") || !strings.Contains(body, "slot") {
			t.Errorf("turn %d shows %q", i+1, between(body, "<main", "</main>"))
		}
		do := "keep"
		if i == 1 {
			do = "aside"
		}
		if status, body, _ := v.send(at, url.Values{"do": {do}, "annuli": {fmt.Sprint(i + 3)}, "edge": {"partial"}}); status != http.StatusSeeOther {
			t.Fatalf("turn %d is answered with %d: %s", i+1, status, problems(body))
		}
	}
	if seen[4] != seen[1] {
		t.Errorf("what was put aside second comes again as %s, want %s last", seen[4], seen[1])
	}
	readings := p.where(t, history.Readings, "session", label)
	if len(readings) != 4 {
		t.Fatalf("the sitting left %d readings, want 4", len(readings))
	}
	for _, r := range readings {
		f := r.Fields()
		if fish := p.fields(t, f["fish"]); fish["area"] != "Skell" || !strings.Contains(trayed, f["preparation"]) || f["image"] != "" {
			t.Errorf("reading %v is of a fish of %s, and its preparation on the tray: %v", f, fish["area"], strings.Contains(trayed, f["preparation"]))
		}
	}
}

// TestNobodyLaysOutTheirOwnSitting: who reads and works at the bench must not look up which
// preparation lies in which slot of a sitting of theirs.
func TestNobodyLaysOutTheirOwnSitting(t *testing.T) {
	p := serving(t, "")
	p.sections(t, 3, here)
	p.sitting(t, "S-test", "odd", 3, false)
	p.account(t, "mara", accounts.Administrator|accounts.Bench)
	p.account(t, "odd", accounts.Reader|accounts.Bench)
	for who, want := range map[string]int{"odd": http.StatusForbidden, "mara": http.StatusOK} {
		status, body, _ := p.signedIn(t, who).ask("/read/S-test/tray")
		if status != want || strings.Contains(body, codeOf(1)) != (want == http.StatusOK) {
			t.Errorf("the tray of odd's sitting answers %s with %d, want %d, or shows what it must not", who, status, want)
		}
	}
}

// TestSittingsAreTheReadersOwn: nobody else goes on with a sitting, sees its pictures, or
// writes to it.
func TestSittingsAreTheReadersOwn(t *testing.T) {
	p := serving(t, "")
	p.sections(t, 3, here)
	p.sitting(t, "S-test", "odd", 3, false)
	p.account(t, "admin", accounts.Administrator)
	p.account(t, "odd", accounts.Reader)
	p.account(t, "eve", accounts.Reader)
	_, _, h := p.signedIn(t, "odd").ask("/read/S-test")
	at := h.Get("Location")
	v := p.signedIn(t, "eve")
	for _, path := range []string{"/read/S-test", at, at + "/tile/0/0/0"} {
		if status, _, _ := v.ask(path); status != http.StatusNotFound {
			t.Errorf("%s of another reader is answered with %d, want 404", path, status)
		}
	}
	for _, path := range []string{at, at + "/work", at + "/along"} {
		if status, _, _ := v.send(path, url.Values{"annuli": {"3"}, "edge": {"wide"}, "work": {"{}"}}); status != http.StatusNotFound {
			t.Errorf("writing to %s of another reader is answered with %d, want 404", path, status)
		}
	}
	odd := p.signedIn(t, "odd")
	for _, work := range []string{"{", `{"marks":[{"x":1e300,"y":0}]}`, `{"axis":[` + strings.TrimSuffix(strings.Repeat(`{"X":1,"Y":1},`, 50), ",") + `]}`, `{"remark":"` + strings.Repeat("x", 3000) + `"}`} {
		if status, _, _ := odd.send(at+"/work", url.Values{"work": {work}}); status != http.StatusUnprocessableEntity {
			t.Errorf("work of %.40q is answered with %d, want 422", work, status)
		}
	}
	for _, path := range []string{"/tile/0/-1/0", "/tile/9/0/0", "/tile/a/b/c", "/tile/0/99/0"} {
		if status, _, _ := odd.ask(at + path); status != http.StatusNotFound {
			t.Errorf("%s is answered with %d, want 404", path, status)
		}
	}
}

// TestPicturesFindTheirPreparations by the label in the file name, in any writing.
func TestPicturesFindTheirPreparations(t *testing.T) {
	p := serving(t, "mara")
	p.season(t, 5)
	var file bytes.Buffer
	if err := png.Encode(&file, section.Draw(3, 1, section.Settings{}).Picture); err != nil {
		t.Fatal(err)
	}
	prep := codeOf(1) + "-L1"
	other := section.Draw(3, 2, section.Settings{})
	var second bytes.Buffer
	if err := png.Encode(&second, other.Picture); err != nil {
		t.Fatal(err)
	}
	status, body := p.visitor(t).upload("/bench/pictures", map[string][]byte{
		"x40 " + strings.ToLower(prep) + "_a.png": file.Bytes(), codeOf(2) + ".png": second.Bytes(), "nobody.png": file.Bytes(), codeOf(4) + ".png": []byte("no picture")},
		map[string]string{"um_per_pixel": "3,2", "light": "reflected"})
	if status != http.StatusOK || !strings.Contains(body, "<b>2</b> of 4") || !strings.Contains(body, "No preparation") || !strings.Contains(body, "no picture") {
		t.Fatalf("four files are answered with %d: %s", status, between(body, "<main", "</main>"))
	}
	images := p.where(t, history.Images, "preparation", prep)
	if len(images) != 1 || images[0].Fields()["um_per_pixel"] != "3.2" || images[0].Fields()["light"] != "reflected" {
		t.Errorf("the picture of %s is kept as %v", prep, images)
	}
	if again := p.where(t, history.Images, "preparation", codeOf(2)+"-L1"); len(again) != 1 {
		t.Errorf("a picture under the label of a fish is kept %d times, want once", len(again))
	}
	if status, _ := p.visitor(t).upload("/bench/pictures", map[string][]byte{prep + ".png": file.Bytes()}, nil); status != http.StatusOK || len(p.where(t, history.Images, "preparation", prep)) != 1 {
		t.Errorf("the same picture once more (%d) is kept %d times, want once", status, len(p.where(t, history.Images, "preparation", prep)))
	}
	if status, _ := p.visitor(t).upload("/bench/pictures", map[string][]byte{prep + ".png": file.Bytes()}, map[string]string{"um_per_pixel": "-2"}); status != http.StatusUnprocessableEntity {
		t.Errorf("a scale below nothing is answered with %d, want 422", status)
	}
}

// upload sends files and fields as a form does.
func (v *visitor) upload(path string, files map[string][]byte, fields map[string]string) (int, string) {
	v.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, value := range fields {
		must0(v.t, w.WriteField(name, value))
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		part, err := w.CreateFormFile("file", name)
		must0(v.t, err)
		_, err = part.Write(files[name])
		must0(v.t, err)
	}
	must0(v.t, w.Close())
	r, err := http.NewRequest(http.MethodPost, v.at+path, &b)
	must0(v.t, err)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	status, body, _ := v.do(r)
	return status, body
}

func must0(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
