package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"strings"
	"testing"
	"time"

	"earstone/pages/web/phone"
	"earstone/programme/date"
	"earstone/programme/label"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/pictures"
)

// told is what a phone is told.
type told struct {
	status  int
	text    string
	Refused string
	Kept    bool
	Cards   []struct {
		ID, Refused string
		Kept        bool
		Says        []string
	}
}

// word is what became of the first card.
func (a told) word() string {
	switch {
	case a.Refused != "":
		return a.Refused
	case len(a.Cards) == 0:
		return fmt.Sprint("status ", a.status)
	case a.Cards[0].Kept:
		return "kept"
	}
	return a.Cards[0].Refused
}

// says sends something to a path of the phone page as the page itself does.
func (h *harbour) says(t testing.TB, path string, head http.Header, body []byte) told {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, h.page()+path, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("Content-Type", "application/json")
	maps.Copy(r.Header, head)
	a := told{}
	a.status, a.text, _ = h.visitor(t).do(r)
	if strings.HasPrefix(a.text, "{") {
		if err := json.Unmarshal([]byte(a.text), &a); err != nil {
			t.Fatalf("%s answers %q: %v", path, a.text, err)
		}
	}
	return a
}

type sentCard struct {
	ID    string            `json:"id"`
	Cells map[string]string `json:"cells"`
}

func phoneCard(label string) sentCard {
	return sentCard{history.NewID().String(), map[string]string{"fish": label, "length": "214", "length_unit": "cm", "length_kind": "curved_fork",
		"area": "Skell", "caught_on": "2025-06-14", "stones": "both"}}
}

func (h *harbour) sends(t testing.TB, code string, cards ...sentCard) told {
	t.Helper()
	body, err := json.Marshal(map[string]any{"code": code, "cards": cards})
	if err != nil {
		t.Fatal(err)
	}
	return h.says(t, "cards", nil, body)
}

// code is how a kit's code is typed.
func (h *harbour) code(kit int) string { return h.kits[kit].PhoneCode.String() }

// TestOnlyAKitsOwnCardsComeIn: who has no kit, another's or a cancelled one adds nothing;
// each card that is refused is refused in words that the page has.
func TestOnlyAKitsOwnCardsComeIn(t *testing.T) {
	h := inHarbour(t)
	with := func(change func(c *sentCard)) sentCard {
		c := phoneCard(codeOf(1))
		change(&c)
		return c
	}
	other := history.NewID()
	h.keep(t, &history.Entry{ID: other, Subject: other, Kind: history.Fish, Fields: history.Fields{"fish": codeOf(39), "species": "BFT", "remark": "nobody's business"}})
	for _, c := range []struct {
		name, code, want string
		card             sentCard
	}{
		{"no code at all", "", "code", phoneCard(codeOf(1))},
		{"the name of the kit", "K-0001", "code", phoneCard(codeOf(1))},
		{"a label for a code", codeOf(1), "code", phoneCard(codeOf(1))},
		{"a code of no kit", label.NewKitCode(func(n int) int { return 7 % n }).String(), "no_kit", phoneCard(codeOf(1))},
		{"a cancelled kit", h.code(2), "cancelled", phoneCard(codeOf(81))},
		{"a kit without a code", "", "code", phoneCard(codeOf(121))},
		{"a label of another kit", h.code(0), "other_kit", phoneCard(codeOf(41))},
		{"a label of no kit", h.code(0), "other_kit", phoneCard(codeOf(999))},
		{"a label of a cancelled kit of somebody else", h.code(1), "other_kit", phoneCard(codeOf(81))},
		{"a label with a wrong check letter", h.code(0), "label", phoneCard("QB-00001-" + string("AB"[min(1, strings.Count(codeOf(1)[9:], "A"))]))},
		{"an identity that is none", h.code(0), "form", with(func(c *sentCard) { c.ID = "1" })},
		{"an identity of version 4", h.code(0), "form", with(func(c *sentCard) { c.ID = "5f6a5f1d-160b-4aed-8d3e-3799a7f3b7bb" })},
		{"the identity of another's record", h.code(0), "form", with(func(c *sentCard) { c.ID = other.String() })},
		{"a column that is not a card's", h.code(0), "form", with(func(c *sentCard) { c.Cells["contributor"] = "C-022" })},
		{"a text that is too long", h.code(0), "form", with(func(c *sentCard) { c.Cells["gear"] = strings.Repeat("g", 61) })},
		{"stones that are none", h.code(0), "form", with(func(c *sentCard) { c.Cells["stones"] = "three" })},
		{"a length that is none", h.code(0), "wrong", with(func(c *sentCard) { c.Cells["length"] = "2l4" })},
		{"a day that is none", h.code(0), "wrong", with(func(c *sentCard) { c.Cells["caught_on"] = "2025-13-45" })},
		{"a label that is taken", h.code(0), "taken", phoneCard(codeOf(39))},
	} {
		a := h.sends(t, c.code, c.card)
		if a.word() != c.want || a.status >= 500 {
			t.Errorf("%s: the phone is told %q (%d), want %q", c.name, a.word(), a.status, c.want)
		}
		if strings.Contains(a.text, "business") {
			t.Errorf("%s: the phone reads what it did not send: %s", c.name, a.text)
		}
	}
	if n := h.count(t, history.Fish); n != 1 {
		t.Errorf("%d fish are kept, want the one of before", n)
	}
	if a := h.sends(t, h.code(0), phoneCard(codeOf(82))); a.word() != "kept" {
		t.Errorf("a label of a cancelled kit, sent with the next kit of the same contributor, is told %q, want kept", a.word())
	}
}

// TestSendingAgainChangesNothing: the same card twice, at once or with other words in it.
func TestSendingAgainChangesNothing(t *testing.T) {
	h := inHarbour(t)
	card := phoneCard(codeOf(3))
	done := make(chan string)
	for range 8 {
		go func() { done <- h.sends(t, h.code(0), card).word() }()
	}
	for range 8 {
		if word := <-done; word != "kept" {
			t.Errorf("one of eight sendings at once is told %q, want kept", word)
		}
	}
	changed := sentCard{card.ID, maps.Clone(card.Cells)}
	changed.Cells["length"] = "99"
	if a := h.sends(t, h.code(0), changed); a.word() != "differs" {
		t.Errorf("another card under the identity of one is told %q, want differs", a.word())
	}
	if a := h.sends(t, h.code(1), card); a.word() != "form" {
		t.Errorf("the card of another kit is told %q, want form", a.word())
	}
	if n, f := h.count(t, history.Fish), h.fields(t, codeOf(3)); n != 1 || f["length"] != "214" || f["contributor"] != "C-014" {
		t.Errorf("%d fish are kept, the first as %v", n, f)
	}
	if n := h.count(t, history.Stones); n != 2 {
		t.Errorf("%d stones are kept, want 2", n)
	}
	id, _ := history.ParseID(card.ID)
	entries, err := h.store.History(context.Background(), id)
	if err != nil || len(entries) != 1 || entries[0].Who != "kit K-0001" {
		t.Errorf("the card has %d entries (%v)", len(entries), err)
	}
}

// TestPhonesAreBounded: bodies, numbers of cards, other forms, other sites, and how often.
func TestPhonesAreBounded(t *testing.T) {
	h := inHarbour(t)
	var many []sentCard
	for i := range 21 {
		many = append(many, phoneCard(codeOf(i+1)))
	}
	if a := h.sends(t, h.code(0), many...); a.word() != "form" {
		t.Errorf("21 cards at once are told %q, want form", a.word())
	}
	large := fmt.Sprintf(`{"code":%q,"cards":[{"id":"x","cells":{"remark":%q}}]}`, h.code(0), strings.Repeat("r", phone.CardBytes))
	if a := h.says(t, "cards", nil, []byte(large)); a.Refused != "large" || a.status != http.StatusRequestEntityTooLarge {
		t.Errorf("a body over the bound is told %q (%d)", a.Refused, a.status)
	}
	for _, body := range []string{"", "{", "[]", `{"code":1}`, `{"code":"","cards":[],"more":1}`, `{}{}`} {
		if a := h.says(t, "cards", nil, []byte(body)); a.Refused != "form" {
			t.Errorf("the body %q is told %q, want form", body, a.text)
		}
	}
	if a := h.says(t, "cards", http.Header{"Content-Type": {"text/plain"}}, []byte(`{}`)); a.Refused != "form" {
		t.Errorf("another kind of body is told %q, want form", a.text)
	}
	for _, from := range []http.Header{{"Sec-Fetch-Site": {"cross-site"}}, {"Sec-Fetch-Site": {""}, "Origin": {"https://skell.example"}}, {"Sec-Fetch-Site": {"same-site"}}} {
		if a := h.says(t, "kit", from, []byte(`{"code":""}`)); a.status != http.StatusForbidden {
			t.Errorf("another site (%v) is answered with %d", from, a.status)
		}
	}
	right := []byte(fmt.Sprintf(`{"code":%q}`, h.code(0)))
	if a := h.says(t, "kit", nil, right); a.status != http.StatusOK || !strings.Contains(a.text, "Skell") {
		t.Errorf("the kit is told %d %s", a.status, a.text)
	}
	wrong := 0
	for i := range 60 {
		guess := label.NewKitCode(func(n int) int { return i % n }).String()
		if a := h.says(t, "kit", nil, []byte(fmt.Sprintf(`{"code":%q}`, guess))); a.Refused == "no_kit" {
			wrong++
		} else if a.Refused != "pace" || a.status != http.StatusTooManyRequests {
			t.Fatalf("a guess is told %q (%d)", a.Refused, a.status)
		}
	}
	if most := pacesOfPhones[phone.OfGuesses].atOnce; wrong > most+1 {
		t.Errorf("%d codes could be tried at once, want at most %d", wrong, most)
	}
	if a := h.says(t, "kit", nil, right); a.Refused != "pace" {
		t.Errorf("after too many guesses the right code is told %q, want pace: otherwise guessing goes on", a.Refused)
	}
}

// TestAKitIsBounded: one kit can't fill the store, whatever address it comes from.
func TestAKitIsBounded(t *testing.T) {
	now := time.Now()
	limits := newTries(func() time.Time { return now })
	taken := 0
	for i := range 1000 {
		if limits.due(phone.OfKit, "K-0001", 1) {
			taken++
		}
		if !limits.due(phone.OfKit, fmt.Sprint("other ", i), 1) {
			t.Fatal("one kit bounds another")
		}
	}
	if most := pacesOfPhones[phone.OfKit].atOnce; taken != most {
		t.Errorf("a kit sends %d cards at once, want %d", taken, most)
	}
	now = now.Add(10 * time.Second)
	if !limits.due(phone.OfKit, "K-0001", 5) {
		t.Error("after a while no more cards are taken")
	}
}

// TestTextOfAPhoneStaysText: signs that act are dropped, and a script is shown as text.
func TestTextOfAPhoneStaysText(t *testing.T) {
	h := inHarbour(t)
	h.account(t, "mara", accounts.Everybody)
	const script = `<script>alert(1)</script><img src=x onerror=alert(1)>`
	card := phoneCard(codeOf(5))
	card.Cells["remark"], card.Cells["gear"], card.Cells["area"] = script, "\u202ekcor\u0000", `"><svg onload=alert(1)>`
	if a := h.sends(t, h.code(0), card); a.word() != "kept" {
		t.Fatalf("the card is told %q: %s", a.word(), a.text)
	}
	f := h.fields(t, codeOf(5))
	if f["remark"] != script || f["gear"] != "kcor" || f["area"] != "" {
		t.Errorf("the card is kept as %v", f)
	}
	if n := h.count(t, history.Areas); n != 3 {
		t.Errorf("a phone added to the areas: %d, want 3", n)
	}
	v := h.signedIn(t, "mara")
	for _, path := range []string{"/fish/" + card.ID, "/intake", "/find?q=alert", "/fish/" + card.ID + "/correct"} {
		if status, body, _ := v.ask(path); status != http.StatusOK || strings.Contains(body, "<script>alert") || strings.Contains(body, "<img src=x") || strings.Contains(body, "<svg onload") {
			t.Errorf("%s answers %d, with the text of a phone as part of the page", path, status)
		}
	}
}

// photographs sends a photograph of a card.
func (h *harbour) photographs(t testing.TB, kit int, id, card, of string, picture []byte) told {
	t.Helper()
	return h.says(t, "photographs?id="+id+"&card="+card+"&of="+of, http.Header{"Content-Type": {"image/jpeg"}, "X-Kit-Code": {h.code(kit)}}, picture)
}

func TestPhotographsOfAKitsOwnCards(t *testing.T) {
	h := inHarbour(t)
	h.account(t, "mara", accounts.Everybody)
	h.account(t, "odd", accounts.Reader)
	card := phoneCard(codeOf(7))
	h.sends(t, h.code(0), card)
	fresh := func() string { return history.NewID().String() }
	plain := snapshot(t, 300, 200)
	const position = "Exif\x00\x00 54.1N 12.3E"
	where := append([]byte{0xff, 0xe1, 0, byte(2 + len(position))}, position...)
	placed := append(append(append([]byte{}, plain[:2]...), where...), plain[2:]...)
	id := fresh()
	for range 2 {
		if a := h.photographs(t, 0, id, card.ID, "card", placed); !a.Kept {
			t.Fatalf("a photograph is told %s", a.text)
		}
	}
	if n := h.count(t, history.Photographs); n != 1 {
		t.Errorf("a photograph that is sent twice is kept %d times", n)
	}
	status, body, head := h.signedIn(t, "mara").ask("/photographs/" + id)
	if status != http.StatusOK || head.Get("Content-Type") != "image/jpeg" || body != string(plain) {
		t.Errorf("the photograph is shown with %d %s, %d bytes, want the %d of the picture alone", status, head.Get("Content-Type"), len(body), len(plain))
	}
	if strings.Contains(body, "54.1N") {
		t.Error("the place of the camera is kept")
	}
	if status, _, _ := h.signedIn(t, "odd").ask("/photographs/" + id); status != http.StatusForbidden {
		t.Errorf("a reader sees a photograph of the tape: %d", status)
	}
	if status, _, _ := h.visitor(t).ask("/photographs/" + id); status != http.StatusSeeOther {
		t.Errorf("whoever has no account sees a photograph: %d", status)
	}
	behind := append(append([]byte{}, plain...), "<script>"...)
	for name, a := range map[string]told{
		"form: another thing":               h.photographs(t, 0, fresh(), card.ID, "boat", plain),
		"form: an identity that is none":    h.photographs(t, 0, "1", card.ID, "card", plain),
		"form: the identity of a card":      h.photographs(t, 0, card.ID, card.ID, "card", plain),
		"no_card: a card that never came":   h.photographs(t, 0, fresh(), fresh(), "card", plain),
		"no_card: a card of another kit":    h.photographs(t, 1, fresh(), card.ID, "card", plain),
		"cancelled: a cancelled kit":        h.photographs(t, 2, fresh(), card.ID, "card", plain),
		"picture: no picture":               h.photographs(t, 0, fresh(), card.ID, "card", []byte("GIF89a")),
		"picture: nothing":                  h.photographs(t, 0, fresh(), card.ID, "card", nil),
		"picture: half a picture":           h.photographs(t, 0, fresh(), card.ID, "card", plain[:len(plain)/2]),
		"picture: something behind the end": h.photographs(t, 0, fresh(), card.ID, "card", behind),
		"large: too wide":                   h.photographs(t, 0, fresh(), card.ID, "card", snapshot(t, 2050, 10)),
		"large: too many bytes":             h.photographs(t, 0, fresh(), card.ID, "card", make([]byte, phone.PhotographBytes+1)),
	} {
		want, _, _ := strings.Cut(name, ":")
		if a.Refused != want || a.Kept {
			t.Errorf("%s: the phone is told %s (%d)", name, a.text, a.status)
		}
	}
	for range 3 {
		h.photographs(t, 0, fresh(), card.ID, "tape", plain)
	}
	if a := h.photographs(t, 0, fresh(), card.ID, "tape", plain); a.Refused != "photographs" || h.count(t, history.Photographs) != 4 {
		t.Errorf("a fifth photograph of a card is told %s; %d are kept", a.text, h.count(t, history.Photographs))
	}
	hashes, err := h.folder.Hashes()
	if err != nil || len(hashes) != 1 {
		t.Errorf("%d pictures lie in the folder (%v), want the one that is the same four times", len(hashes), err)
	}
	if d, err := h.folder.Verify(hashes[0]); err != nil || d != (pictures.Damage{}) {
		t.Errorf("the picture is damaged: %v (%v)", d, err)
	}
}

// TestCancelledKitKeepsCardsOnThePhone: they are refused in words, and sent with the next
// kit of the same contributor.
func TestCancelledKitKeepsCardsOnThePhone(t *testing.T) {
	h := inHarbour(t)
	ctx := switchOn(t, t.TempDir())
	opened(t, ctx, h.page()+"#"+h.code(0))
	withKit(t, ctx, h.code(0))
	appears(t, ctx, "taking the kit", `document.querySelector("#kit-line").innerText.includes("K-0001")`)
	h.cut()
	for i := range 3 {
		enterCard(t, ctx, codeOf(i+1), "200")
		appears(t, ctx, "keeping a card", fmt.Sprintf("%s === %d", lines("waits"), i+1))
	}
	h.kits[0].CancelledOn = date.On(2025, 7, 1)
	h.kits = append(h.kits, kitOf("K-0005", "C-014", 141, 150))
	h.connect(t)
	appears(t, ctx, "refusing the cards", lines("refused")+` === 3 && document.querySelector("#cards").innerText.includes("This kit was cancelled")`)
	if n := h.count(t, history.Fish); n != 0 {
		t.Errorf("a cancelled kit added %d fish", n)
	}
	withKit(t, ctx, h.code(4))
	appears(t, ctx, "sending them with another kit", lines("kept")+" === 3")
	if n := h.count(t, history.Fish); n != 3 {
		t.Errorf("%d fish are in the store, want 3", n)
	}
}
