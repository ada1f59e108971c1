package read

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/sitting"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/pictures"
)

// lobby is the page of a reader's sittings.
type lobby struct {
	Mine  []line
	Reads bool
	Deals bool // whoever asks may deal sittings by rule
	Form  []frame.Field
	Dealt []line // to everybody, for those who may know
	Said  string
	Wrong string
}

// line is one sitting.
type line struct {
	Label, Reader, Begun string
	Read, Of, Aside      int
	Glass, Done          bool
}

// Lobby shows whoever asks their sittings.
func (p *Page) Lobby(r *frame.Request) (frame.Answer, error) {
	v, err := p.lobby(r)
	v.Said = r.Typed("dealt")
	return lobbyPage.Show("Read", v), err
}

// deals tells whether a person may choose what is read: who reads blind must not know by
// which area or season a sitting was made.
func deals(who accounts.Person) bool { return who.Roles.Has(accounts.Coordinator | accounts.Analyst) }

func (p *Page) lobby(r *frame.Request) (lobby, error) {
	v := lobby{Deals: deals(r.Who), Reads: r.Who.Roles.Has(accounts.Reader)}
	err := p.store.Each(r.Context(), history.Sittings, func(one *history.Record) error {
		if one.Fields()["reader"] != r.By() && !v.Deals {
			return nil
		}
		d, err := readSitting(*one)
		if err != nil {
			return err
		}
		at, err := p.state(r.Context(), d)
		if err != nil {
			return err
		}
		l := line{Label: d.label, Reader: d.reader, Begun: d.begun.In(p.now().Location()).Format("2 Jan 2006"),
			Read: at.Read, Of: at.Of, Aside: at.PutAside, Glass: d.glass, Done: at.Next == ""}
		if d.reader == r.By() {
			v.Mine = append(v.Mine, l)
		}
		if v.Deals {
			v.Dealt = append(v.Dealt, l)
		}
		return nil
	})
	slices.Reverse(v.Mine)
	slices.Reverse(v.Dealt)
	slices.SortStableFunc(v.Mine, func(a, b line) int { return cmp.Compare(truth(a.Done), truth(b.Done)) })
	if err != nil || !v.Deals {
		return v, err
	}
	lists, err := p.desk.Lists(r.Context())
	v.Form = dealForm(r, lists)
	return v, err
}

func truth(is bool) int {
	if is {
		return 1
	}
	return 0
}

// dealForm asks by which rule a sitting is made.
func dealForm(r *frame.Request, lists form.Lists) []frame.Field {
	named := func(word string) string {
		return map[string]string{"unread": "nobody has read", "unread_by_reader": "this reader has not read", "again": "named below, again"}[word]
	}
	choose := frame.Field{Name: "choose", Label: "Preparations that", Kind: "select", Span: "wide"}
	for _, w := range []sitting.Choice{sitting.Unread, sitting.UnreadByReader, sitting.Again} {
		choose.Options = append(choose.Options, frame.Option{Value: w.String(), Text: named(w.String()), Chosen: r.Typed("choose") == w.String()})
	}
	shown := frame.Field{Name: "how", Label: "Read", Kind: "choice", Span: "wide"}
	for _, o := range []frame.Option{{Value: "screen", Text: "from pictures"}, {Value: "glass", Text: "under the microscope"}} {
		o.Chosen = o.Value == cmp.Or(r.Typed("how"), "screen")
		shown.Options = append(shown.Options, o)
	}
	return []frame.Field{
		{Name: "reader", Label: "Reader", Value: cmp.Or(r.Typed("reader"), r.By()), Needed: true, Hint: "The account."},
		{Name: "code", Label: "Reads as", Value: r.Typed("code"), Suggest: readerNames(lists.Settings.Readers), Hint: "The code in the readings. Empty: as last time, or like the account."}, choose,
		{Name: "area", Label: "Area", Value: r.Typed("area"), Suggest: lists.Areas},
		{Name: "season", Label: "Year of capture", Value: r.Typed("season"), Number: true},
		{Name: "most", Label: "How many", Value: cmp.Or(r.Typed("most"), "50"), Number: true, Span: "narrow"},
		{Name: "controls", Label: "Controls, %", Value: cmp.Or(r.Typed("controls"), "10"), Number: true, Span: "narrow"},
		shown,
		{Name: "suggestions", Label: "Suggested annuli", Kind: "checks", Span: "wide", Options: []frame.Option{{Value: "true", Text: "may be shown", Chosen: r.Typed("suggestions") != ""}},
			Hint: "Never at a control, nor at a third of the others, so that controls stay hidden."},
		{Name: "named", Label: "Named preparations", Kind: "area", Value: r.Typed("named"), Span: "whole", Hint: "To be read again: one a line."},
	}
}

// Begin deals a reader what nobody has read yet, of all areas and seasons.
func (p *Page) Begin(r *frame.Request) (frame.Answer, error) {
	rule := sitting.Rule{Choose: sitting.UnreadByReader, Glass: r.Typed("how") == "glass"}
	code, err := p.readsAs(r.Context(), r.By())
	if err != nil {
		return frame.Answer{}, err
	}
	d, err := p.deal(r, rule, r.By(), code, false)
	if errors.Is(err, sitting.ErrNothing) {
		v, err := p.lobby(r)
		v.Wrong = "Nothing waits for you: every preparation that can be shown is read by you, or dealt to you. Pictures are taken in at the Bench."
		return lobbyPage.Again("Read", v), err
	}
	if err != nil {
		return frame.Answer{}, err
	}
	return frame.Next("/read/" + d.label), nil
}

// Deal deals a sitting by rule to any reader.
func (p *Page) Deal(r *frame.Request) (frame.Answer, error) {
	rule, reader, wrong := readRule(r)
	code, problem, err := p.code(r, reader)
	if err != nil {
		return frame.Answer{}, err
	}
	if problem.Grave {
		if wrong == nil {
			wrong = map[string]frame.Problem{}
		}
		wrong["code"] = problem
	}
	if wrong == nil {
		d, err := p.deal(r, rule, reader, code, r.Typed("suggestions") == "true")
		if err == nil {
			return frame.Next("/read?dealt=" + d.label), nil
		}
		if !errors.Is(err, sitting.ErrNothing) {
			return frame.Answer{}, err
		}
		wrong = map[string]frame.Problem{"choose": {Says: "No preparation fits.", Do: "Take a wider rule, or take pictures in at the Bench.", Grave: true}}
	}
	v, err := p.lobby(r)
	for i := range v.Form {
		if problem, is := wrong[v.Form[i].Name]; is {
			v.Form[i].Problems = []frame.Problem{problem}
		}
	}
	frame.Begin(v.Form)
	return lobbyPage.Again("Read", v), err
}

// code is the reader's code as it was typed, which the settings must list where they list
// readers; not typed, it is the one that is known of the account.
func (p *Page) code(r *frame.Request, account string) (record.ReaderID, frame.Problem, error) {
	typed := record.ReaderID(strings.TrimSpace(r.Typed("code")))
	if typed == "" {
		code, err := p.readsAs(r.Context(), account)
		return code, frame.Problem{}, err
	}
	lists, err := p.desk.Lists(r.Context())
	if listed := lists.Settings.Readers; err == nil && len(listed) > 0 && !slices.Contains(listed, typed) {
		return "", frame.Problem{Says: fmt.Sprintf("The settings of the programme list no reader %q.", typed),
			Do: "Choose one of " + strings.Join(readerNames(listed), ", ") + ", or add the code to readers in programme.json.", Grave: true}, nil
	}
	return typed, frame.Problem{}, err
}

func readerNames(readers []record.ReaderID) (names []string) {
	for _, one := range readers {
		names = append(names, string(one))
	}
	return names
}

// readRule is the rule of a sitting as it was typed.
func readRule(r *frame.Request) (rule sitting.Rule, reader string, wrong map[string]frame.Problem) {
	bad := map[string]frame.Problem{}
	number := func(name string, least, most int) int {
		n, err := strconv.Atoi(strings.TrimSpace(r.Typed(name)))
		if err != nil || n < least || n > most {
			bad[name] = frame.Problem{Says: "This is no number that can be.", Do: fmt.Sprintf("Type %d to %d.", least, most), Grave: true}
		}
		return n
	}
	reader = strings.ToLower(strings.TrimSpace(r.Typed("reader")))
	if reader == "" {
		bad["reader"] = frame.Problem{Says: "Who reads?", Do: "Name the account.", Grave: true}
	}
	choose, known := sitting.ParseChoice(r.Typed("choose"))
	if !known {
		bad["choose"] = frame.Problem{Says: "Nothing is chosen.", Do: "Choose one.", Grave: true}
	}
	rule = sitting.Rule{Choose: choose, Glass: r.Typed("how") == "glass", Most: number("most", 1, 500)}
	if rule.Controls = float64(number("controls", 0, 100)) / 100; rule.Controls == 0 {
		rule.Controls = -1 // none
	}
	if area := strings.TrimSpace(r.Typed("area")); area != "" {
		rule.Areas = []string{area}
	}
	if strings.TrimSpace(r.Typed("season")) != "" {
		rule.Seasons = []int{number("season", 1900, 2999)}
	}
	rule.Named = strings.Fields(r.Typed("named"))
	if choose == sitting.Again && len(rule.Named) == 0 {
		bad["named"] = frame.Problem{Says: "None is named.", Do: "Name the preparations to be read again.", Grave: true}
	}
	if len(bad) == 0 {
		bad = nil
	}
	return rule, reader, bad
}

// suggestionsColumn is the further column of readings that says whether suggested annuli
// were shown before a count was made.
const suggestionsColumn = "suggestions"

// readsAs is the code under which an account reads: that of its last sitting; else the reader
// of the settings who is called like it but for large letters, which no account has; else
// the account's own name.
func (p *Page) readsAs(ctx context.Context, account string) (record.ReaderID, error) {
	found, err := p.store.Where(ctx, history.Query{Kind: history.Sittings, Field: "reader", Value: account})
	if err != nil {
		return "", fmt.Errorf("looking for the last sitting of a reader: %w", err)
	}
	if len(found) > 0 {
		last, err := readSitting(found[len(found)-1])
		if err != nil || string(last.set.Reader) != account {
			return last.set.Reader, err
		}
	}
	lists, err := p.desk.Lists(ctx)
	if err != nil {
		return "", err
	}
	for _, listed := range lists.Settings.Readers {
		if strings.EqualFold(string(listed), account) {
			return listed, nil
		}
	}
	return record.ReaderID(account), nil
}

// deal chooses a set for the account of a reader, who reads under a code, shuffles it and
// writes it down.
func (p *Page) deal(r *frame.Request, rule sitting.Rule, reader string, code record.ReaderID, offers bool) (dealt, error) {
	all, err := p.candidates(r.Context())
	if err != nil {
		return dealt{}, err
	}
	d := dealt{reader: reader, glass: rule.Glass, offers: offers && !rule.Glass, seed: p.seed()}
	if d.set, err = sitting.Choose(all, rule, code, d.seed); err != nil {
		return dealt{}, err
	}
	id := history.NewID().String()
	d.label = "S-" + strings.ReplaceAll(id, "-", "")[22:]
	d.sitting = sitting.Deal(d.set, d.seed)
	fields, err := d.fields()
	if err != nil {
		return dealt{}, err
	}
	entries := []*history.Entry{{Kind: history.Sittings, Fields: fields, Who: r.By(), When: p.now()}}
	if column, err := p.column(r); err != nil {
		return dealt{}, err
	} else if column != nil {
		entries = append(entries, column)
	}
	if err := p.store.Append(r.Context(), entries...); err != nil {
		return dealt{}, fmt.Errorf("keeping the sitting %s: %w", d.label, err)
	}
	return d, nil
}

// column declares the further column of readings, nil when it is declared.
func (p *Page) column(r *frame.Request) (*history.Entry, error) {
	found, err := p.store.Where(r.Context(), history.Query{Kind: history.Columns, Field: "table", Value: "readings", Most: 1})
	if err != nil {
		return nil, fmt.Errorf("reading the further columns of readings: %w", err)
	}
	e := &history.Entry{Kind: history.Columns, Who: r.By(), When: p.now()}
	var names []string
	if len(found) > 0 {
		if err := json.Unmarshal([]byte(found[0].Fields()["columns"]), &names); err != nil {
			return nil, fmt.Errorf("reading the further columns of readings: %w", history.ErrDamaged)
		}
		e.Subject, e.Why = found[0].Subject, "a sitting begins"
		for _, h := range found[0].Heads {
			e.Supersedes = append(e.Supersedes, h.ID)
		}
	}
	if slices.Contains(names, suggestionsColumn) {
		return nil, nil
	}
	text, err := json.Marshal(append(names, suggestionsColumn))
	e.Fields = history.Fields{"table": "readings", "columns": string(text)}
	return e, err
}

// candidates are all preparations with what is known of their fish.
func (p *Page) candidates(ctx context.Context) (all []sitting.Candidate, err error) {
	var failed error
	each := func(kind history.Kind, do func(history.Fields)) {
		if failed == nil {
			failed = p.store.Each(ctx, kind, func(r *history.Record) error { do(r.Fields()); return nil })
		}
	}
	fish := map[string]sitting.Candidate{}
	each(history.Fish, func(f history.Fields) {
		caught, _ := date.Parse(f["caught_on"])
		fish[f["fish"]] = sitting.Candidate{Species: record.Species(f["species"]), Area: f["area"], CaughtOn: caught}
	})
	images := map[string]string{}
	each(history.Images, func(f history.Fields) {
		of := f["preparation"]
		if hash, err := pictures.ParseHash(f["sha256"]); err == nil && (images[of] == "" || f["image"] < images[of]) {
			if _, err := p.pictures.Picture(hash); err == nil {
				images[of] = f["image"]
			}
		}
	})
	known := map[string]bool{}
	each(history.References, func(f history.Fields) { known[f["preparation"]] = true })
	readers, ofFish := map[string][]record.ReaderID{}, map[string][]record.ReaderID{}
	each(history.Readings, func(f history.Fields) {
		if f["control"] == "true" && f["preparation"] != "" {
			known[f["preparation"]] = true
		}
		if f["preparation"] == "" {
			ofFish[f["fish"]] = append(ofFish[f["fish"]], record.ReaderID(f["reader"]))
			return
		}
		readers[f["preparation"]] = append(readers[f["preparation"]], record.ReaderID(f["reader"]))
	})
	each(history.Sittings, func(f history.Fields) { // what is dealt counts as read, so that nothing is dealt twice
		var set sitting.Set
		if json.Unmarshal([]byte(f["rows"]), &set) != nil {
			return // the lobby tells of a sitting that can't be read
		}
		for _, one := range set.Read {
			if by := set.Reader; !slices.Contains(readers[one.Preparation], by) {
				readers[one.Preparation] = append(readers[one.Preparation], by)
			}
		}
	})
	each(history.Preparations, func(f history.Fields) {
		c := fish[f["fish"]]
		c.Preparation, c.Fish = f["preparation"], record.FishID(f["fish"])
		c.Image, c.Reference = images[c.Preparation], known[c.Preparation]
		c.ReadBy = append(slices.Clone(readers[c.Preparation]), ofFish[f["fish"]]...)
		all = append(all, c)
	})
	if failed != nil {
		return nil, fmt.Errorf("looking for what can be read: %w", failed)
	}
	return all, nil
}

var errOwnTray = frame.Trouble{Status: http.StatusForbidden, Says: "This sitting is yours to read.", Do: "Somebody else lays it out, so that your counts stay blind."}

// tray is which preparation lies in which slot.
type tray struct {
	Label, Reader string
	Slots         []slot
}

type slot struct {
	Number      int
	Preparation string
}

// Tray tells whoever lays the preparations out, which is not for the reader's eyes.
// Who reads a sitting is refused its tray, unless nobody else is there to lay it out.
func (p *Page) Tray(r *frame.Request) (frame.Answer, error) {
	d, err := p.one(r.Context(), r.PathValue("sitting"))
	if err != nil {
		return frame.Answer{}, err
	}
	if d.reader == r.By() {
		alone, err := p.alone(r.Context())
		if err != nil {
			return frame.Answer{}, err
		}
		if !alone {
			return frame.Answer{}, errOwnTray
		}
	}
	v := tray{Label: d.label, Reader: d.reader}
	for i, turn := range d.sitting.Turns {
		v.Slots = append(v.Slots, slot{i + 1, turn.Preparation})
	}
	return trayPage.Show("Tray of sitting "+d.label, v), nil
}
