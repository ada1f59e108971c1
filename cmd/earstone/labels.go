package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"earstone/pages/paper"
	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/programme/record"
)

// labelsTakes are the arguments of labels.
type labelsTakes struct {
	Src    string `arg:"" optional:"" name:"SRC" help:"The programme: a folder of tables; kits.csv in it is the table of kits."`
	Count  int    `help:"Make a new kit of so many labels." placeholder:"N"`
	Prefix string `help:"Letters before the number, two to four of ABCDEFHJKMNPQRTVWXY; without it those of the last kit." placeholder:"QB"`
	To     string `help:"Contributor who gets the kit." placeholder:"CONTRIBUTOR"`
	Reward string `help:"What is promised for it, in your own words." placeholder:"TEXT"`
	Again  string `help:"Print the labels and cards of this kit once more." placeholder:"KIT"`
	Out    string `help:"Folder for the printed sheets." default:"." placeholder:"DIR"`
	Stock  string `help:"Label sheet, by name or by measures (--stocks lists them)." default:"plain-a4" placeholder:"SHEET"`
	Copies int    `help:"Labels of each code, side by side." default:"1"`
	Begin  int    `help:"Labels of the first sheet that are gone already." default:"0"`
	Nudge  string `help:"Move the print by mm to the right and down, as 0.5,-1." default:"0,0"`
	Cards  string `help:"Data cards on sheets of: a4, letter, none." enum:"a4,letter,none" default:"a4"`
	Units  string `help:"Units that stand first on the cards: metric, inch." enum:"metric,inch" default:"metric"`
	Mark   string `help:"Mark a kit: sent, cancelled, thanked, rewarded." enum:",sent,cancelled,thanked,rewarded" default:""`
	Kit    string `help:"The kit to mark." placeholder:"KIT"`
	On     string `help:"Day of the mark; today when left out." placeholder:"DATE"`
	Why    string `help:"Why a kit is cancelled." placeholder:"TEXT"`
	Phone  string `help:"Give this kit a new code for the phone page, and make the one it had void." placeholder:"KIT"`
	Read   string `help:"Tell what a label says, as it was typed or scanned, and do nothing else." placeholder:"LABEL"`
	Stocks bool   `help:"List the label sheets that are known."`
	JSON   bool   `help:"Print one JSON object a kit, and no progress."`
}

func labels() command {
	var in labelsTakes
	return command{
		name: "labels",
		does: "Print labels and data cards for a kit, and keep track of kits: sent, back, lost, thanked.",
		example: "earstone labels quarrow-banks\n" +
			"earstone labels quarrow-banks --count 20 --prefix QB --to C0014 --stock 38x21-a4 --out kit\n" +
			"earstone labels quarrow-banks --mark cancelled --kit K-0007 --why 'lost at sea'",
		takes: &in,
		run:   func(ctx context.Context, to *output) (status, error) { return in.labels(ctx, to) },
	}
}

func (in *labelsTakes) labels(_ context.Context, to *output) (status, error) {
	to.json = in.JSON
	if in.Stocks {
		return in.listStocks(to)
	}
	if in.Read != "" {
		return in.readOne(to)
	}
	print, err := in.sheets()
	if err != nil {
		return wrongUse, err
	}
	if about, err := os.Stat(in.Src); err != nil || !about.IsDir() {
		return wrongUse, fmt.Errorf("labels need the folder of a programme, since kits.csv lies in it; %q is none", in.Src)
	}
	if in.changes() {
		release, err := holdKits(in.Src)
		if err != nil {
			return failed, err
		}
		defer release()
	}
	to.begin("reading " + in.Src)
	p, err := openProgramme(in.Src, to.today())
	if err != nil {
		return failed, err
	}
	defer p.close()
	found := &finding.List{}
	kits, err := readKits(in.Src, found)
	if err != nil {
		return failed, err
	}
	if in.Count > 0 { // a fish that was not read might bear the next label
		for _, f := range p.findings().All() {
			if f.Severity == finding.Error && (f.Place.File == "fish.csv" || strings.HasSuffix(f.Place.File, "#fish")) {
				found.Keep(f)
			}
		}
	}
	if found.Of(finding.Error) > 0 {
		ended, err := to.findings(found)
		if err == nil && !to.json {
			to.say("Nothing was printed or changed: mend this first, lest a label be given out twice.")
		}
		return ended, err
	}
	return in.act(to, p.book, kits, print)
}

// changes tells whether kits.csv is to be changed.
func (in *labelsTakes) changes() bool { return in.Count > 0 || in.Mark != "" || in.Phone != "" }

// act does the one thing that was asked for.
func (in *labelsTakes) act(to *output, book *record.Book, kits []label.Kit, print sheets) (status, error) {
	roll, came := enteredRoll(kits, book.Fish)
	switch {
	case in.Count > 0:
		kit, err := in.newKit(to, book, kits, roll)
		if err != nil {
			return wrongUse, err
		}
		kits = append(kits, kit)
		if err := writeKits(in.Src, kits); err != nil { // before the print: a code is given out once, whatever becomes of the paper
			return failed, err
		}
		return print.kit(to, in.Out, book, kit)
	case in.Again != "":
		at := slices.IndexFunc(kits, func(k label.Kit) bool { return k.Kit == in.Again })
		if at < 0 {
			return wrongUse, noKit(in.Again, kits)
		}
		if kits[at].CancelledOn.Known() {
			return wrongUse, fmt.Errorf("kit %s was cancelled on %s: its labels are void and are not printed again; make a new kit with --count", in.Again, kits[at].CancelledOn)
		}
		return print.kit(to, in.Out, book, kits[at])
	case in.Mark != "":
		return in.mark(to, kits, came)
	case in.Phone != "":
		return in.newPhoneCode(to, kits)
	}
	return in.list(to, label.Stock(kits, came))
}

func noKit(name string, kits []label.Kit) error {
	var names []string
	for _, k := range kits {
		names = append(names, k.Kit)
	}
	if near := finding.Nearest(name, names); near != "" {
		return fmt.Errorf("there is no kit %q; was %s meant?", name, near)
	}
	return fmt.Errorf("there is no kit %q among the %d of %s", name, len(kits), kitsFile)
}

func (in *labelsTakes) newKit(to *output, book *record.Book, kits []label.Kit, roll *label.Roll) (label.Kit, error) {
	prefix := in.Prefix
	if prefix == "" && len(kits) > 0 {
		prefix = kits[len(kits)-1].Codes.First.Prefix()
	}
	if !label.GoodPrefix(prefix) {
		return label.Kit{}, fmt.Errorf("--prefix %q: two to four letters of %s are taken, since the others look like digits or like each other", prefix, label.Letters)
	}
	if in.To != "" {
		var known []string
		for _, c := range book.Contributors {
			known = append(known, c.Contributor)
		}
		if !slices.Contains(known, in.To) {
			near := finding.Nearest(in.To, known)
			if near != "" {
				return label.Kit{}, fmt.Errorf("--to %q is no contributor of contributors.csv; was %s meant?", in.To, near)
			}
			return label.Kit{}, fmt.Errorf("--to %q is no contributor of contributors.csv: enter the contributor first", in.To)
		}
	}
	codes, ok := roll.Next(prefix, in.Count)
	if !ok {
		return label.Kit{}, fmt.Errorf("--count %d: %s has no so many numbers left; begin another prefix", in.Count, prefix)
	}
	kit := label.Kit{Kit: nextKit(kits), Contributor: in.To, Codes: codes, Reward: in.Reward, PhoneCode: newKitCode()}
	if in.Reward != "" {
		kit.PromisedOn = to.today()
	}
	return kit, nil
}

// newPhoneCode gives a kit another code, when it has none or the one it had got about.
func (in *labelsTakes) newPhoneCode(to *output, kits []label.Kit) (status, error) {
	at := slices.IndexFunc(kits, func(k label.Kit) bool { return k.Kit == in.Phone })
	if at < 0 {
		return wrongUse, noKit(in.Phone, kits)
	}
	if kits[at].CancelledOn.Known() {
		return wrongUse, fmt.Errorf("kit %s was cancelled on %s: no phone sends cards of it any more", in.Phone, kits[at].CancelledOn)
	}
	kits[at].PhoneCode = newKitCode()
	if err := writeKits(in.Src, kits); err != nil {
		return failed, err
	}
	if to.json {
		return done, to.object(struct {
			Kit       string `json:"kit"`
			PhoneCode string `json:"phone_code"`
		}{kits[at].Kit, kits[at].PhoneCode.String()})
	}
	to.say("Kit %s: code for the phone page: %s", kits[at].Kit, kits[at].PhoneCode)
	return done, nil
}

// mark notes what became of a kit.
func (in *labelsTakes) mark(to *output, kits []label.Kit, came []label.Code) (status, error) {
	at := slices.IndexFunc(kits, func(k label.Kit) bool { return k.Kit == in.Kit })
	if at < 0 {
		return wrongUse, noKit(in.Kit, kits)
	}
	on := to.today()
	if in.On != "" {
		day, ok := date.Parse(in.On)
		if !ok || !day.Known() {
			return wrongUse, fmt.Errorf("--on %q is no date: write 2031-06-15", in.On)
		}
		on = day
	}
	kit := &kits[at]
	days := map[string]*date.Day{"sent": &kit.SentOn, "cancelled": &kit.CancelledOn, "thanked": &kit.ThankedOn, "rewarded": &kit.RewardedOn}
	if before := *days[in.Mark]; before.Known() {
		return wrongUse, fmt.Errorf("kit %s was marked %s on %s already", in.Kit, in.Mark, before)
	}
	*days[in.Mark] = on
	if in.Mark == "cancelled" {
		kit.Why = in.Why
	}
	if err := writeKits(in.Src, kits); err != nil {
		return failed, err
	}
	return in.list(to, label.Stock(kits, came)[at:at+1])
}

// kitObject is a kit as JSON.
type kitObject struct {
	Kit         string   `json:"kit"`
	Contributor string   `json:"contributor"`
	First       string   `json:"first"`
	Last        string   `json:"last"`
	Labels      int      `json:"labels"`
	Back        int      `json:"back"`
	State       string   `json:"state"`
	PhoneCode   string   `json:"phone_code"`
	OwedThanks  bool     `json:"owed_thanks"`
	OwedReward  bool     `json:"owed_reward"`
	After       []string `json:"back_though_cancelled"`
}

// list tells where kits stand.
func (in *labelsTakes) list(to *output, stock []label.Standing) (status, error) {
	if len(stock) == 0 && !to.json {
		to.say("There is no kit yet. The first: earstone labels %s --count 20 --prefix QB", in.Src)
	}
	rows := grid{head: []string{"kit", "to", "first", "last", "labels", "back", "state", "owed"}}
	for _, s := range stock {
		after := []string{}
		for _, c := range s.After {
			after = append(after, c.String())
		}
		if to.json {
			if err := to.object(kitObject{s.Kit.Kit, s.Contributor, s.Codes.First.String(), s.Codes.Last.String(),
				s.Codes.Count(), s.Back, s.State.String(), s.PhoneCode.String(), s.OwedThanks, s.OwedReward, after}); err != nil {
				return failed, err
			}
			continue
		}
		var owed []string
		if s.OwedThanks {
			owed = append(owed, "thanks")
		}
		if s.OwedReward {
			owed = append(owed, "reward: "+s.Reward)
		}
		rows.add(s.Kit.Kit, s.Contributor, s.Codes.First.String(), s.Codes.Last.String(), strconv.Itoa(s.Codes.Count()),
			strconv.Itoa(s.Back), strings.ReplaceAll(s.State.String(), "_", " "), strings.Join(owed, ", "))
		if len(after) > 0 {
			defer to.say("Kit %s was cancelled, and fish came with its labels: %s. Look at who sent them before you trust them.", s.Kit.Kit, strings.Join(after, ", "))
		}
	}
	if !to.json && len(stock) > 0 {
		to.say("%s", strings.TrimRight(rows.text(), "\n"))
	}
	return done, nil
}

func (in *labelsTakes) listStocks(to *output) (status, error) {
	for _, s := range paper.Stocks() {
		if to.json {
			if err := to.object(struct {
				Stock string `json:"stock"`
				Title string `json:"title"`
			}{s.Name, s.Title()}); err != nil {
				return failed, err
			}
			continue
		}
		to.say("%-13s %s", s.Name, s.Title())
	}
	return done, nil
}

// readOne tells what one label says; found when it can't be read.
func (in *labelsTakes) readOne(to *output) (status, error) {
	texts, _ := words.PrintedIn("en")
	r := label.Parse(in.Read)
	ended := done
	if r.Remark.Refuses() {
		ended = found
	}
	if to.json {
		return ended, to.object(struct {
			Label  string `json:"label"`
			Remark string `json:"remark"`
			Says   string `json:"says"`
		}{r.Code.String(), r.Remark.String(), texts.Label(r)})
	}
	to.say("%s", texts.Label(r))
	return ended, nil
}

// sheets is how a kit is printed.
type sheets struct {
	src           string
	stock         paper.Stock
	copies, begin int
	right, down   float64
	cards         paper.Size // no size: none
	inch          bool
}

func (in *labelsTakes) sheets() (s sheets, err error) {
	if s.stock, err = paper.ParseStock(in.Stock); err != nil {
		return s, fmt.Errorf("--stock: %w", err)
	}
	right, down, ok := strings.Cut(in.Nudge, ",")
	var errRight, errDown error
	s.right, errRight = strconv.ParseFloat(strings.TrimSpace(right), 64)
	s.down, errDown = strconv.ParseFloat(strings.TrimSpace(down), 64)
	if !ok || errRight != nil || errDown != nil || !(max(s.right, -s.right) <= 10) || !(max(s.down, -s.down) <= 10) {
		return s, fmt.Errorf("--nudge %q: write mm to the right and mm down, at most 10, as 0.5,-1", in.Nudge)
	}
	switch {
	case in.Copies < 1 || in.Copies > 20:
		return s, fmt.Errorf("--copies is from 1 to 20")
	case in.Count < 0 || in.Count > 100_000:
		return s, fmt.Errorf("--count is from 1 to 100000")
	case in.Begin < 0 || in.Begin >= s.stock.Count():
		return s, fmt.Errorf("--begin is from 0 to %d, the labels of a sheet less one", s.stock.Count()-1)
	case in.Mark != "" && in.Kit == "", in.Mark == "" && in.Kit != "":
		return s, fmt.Errorf("--mark and --kit go together")
	}
	s.src, s.copies, s.begin, s.inch = in.Src, in.Copies, in.Begin, in.Units == "inch"
	s.cards = map[string]paper.Size{"a4": paper.A4, "letter": paper.Letter}[in.Cards]
	return s, nil
}

// kit prints the sheets of a kit and tells where they lie.
func (s sheets) kit(to *output, out string, book *record.Book, kit label.Kit) (status, error) {
	if err := os.MkdirAll(out, 0o777); err != nil {
		return failed, fmt.Errorf("making the folder %s: %w", out, err)
	}
	l := paper.Labels{Stock: s.stock, Begin: s.begin, NudgeX: s.right, NudgeY: s.down, Name: onPaper(to, "The programme's name", book.Settings.Name),
		About: paper.About{Title: "Labels of kit " + kit.Kit, Language: "en", Made: to.clock()}}
	var codes []label.Code
	for i := range kit.Codes.Count() {
		codes = append(codes, kit.Codes.At(i))
		for range s.copies {
			l.Codes = append(l.Codes, kit.Codes.At(i))
		}
	}
	name := safeName(kit.Kit)
	files := []string{filepath.Join(out, "labels-"+name+".pdf")}
	sheets := []*paper.Doc{l.Document()}
	if s.cards.Width > 0 {
		texts, _ := words.PrintedIn(languageOf(book, kit.Contributor))
		if paper.Lacks(texts.Say("card.length")) != "" {
			texts, _ = words.PrintedIn("en")
		}
		areas := paper.PublicAreas(book.Areas)
		if onPaper(to, "The name of an area", strings.Join(areas, "")) == "" {
			areas = nil
		}
		c := paper.Cards{Sheet: s.cards, Codes: codes, Name: l.Name, Areas: areas, Inches: s.inch, Pounds: s.inch, Words: texts,
			About: paper.About{Title: "Data cards of kit " + kit.Kit, Language: "en", Made: to.clock()}}
		files, sheets = append(files, filepath.Join(out, "cards-"+name+".pdf")), append(sheets, c.Document())
	}
	for i, d := range sheets {
		content, err := d.Bytes()
		if err == nil {
			err = replace(files[i], content)
		}
		if err != nil {
			return failed, fmt.Errorf("kit %s is entered; printing it: %w (earstone labels %s --again %s prints it)", kit.Kit, err, s.src, kit.Kit)
		}
	}
	if to.json {
		return done, to.object(struct {
			Kit       string   `json:"kit"`
			First     string   `json:"first"`
			Last      string   `json:"last"`
			PhoneCode string   `json:"phone_code"`
			Files     []string `json:"files"`
		}{kit.Kit, kit.Codes.First.String(), kit.Codes.Last.String(), kit.PhoneCode.String(), files})
	}
	to.say("Kit %s: %s, %s to %s.", kit.Kit, several(kit.Codes.Count(), "label"), kit.Codes.First, kit.Codes.Last)
	to.say("Printed on %s: %s.", s.stock.Title(), strings.Join(files, ", "))
	if kit.PhoneCode.Known() {
		to.say("Code for the phone page, to be sent along with the kit: %s", kit.PhoneCode)
	}
	to.say("Print at 100 %%, not fitted to the page. When it has gone out: earstone labels %s --mark sent --kit %s", s.src, kit.Kit)
	return done, nil
}

// languageOf is the language of a contributor, empty when it is not known.
func languageOf(book *record.Book, contributor string) string {
	for _, c := range book.Contributors {
		if c.Contributor == contributor {
			return c.Language
		}
	}
	return ""
}

// onPaper is a text as it can be printed: as it is, or left out, and told, when the
// embedded faces lack a sign of it.
func onPaper(to *output, what, text string) string {
	if lack := paper.Lacks(text); lack != "" {
		fmt.Fprintf(to.err, "%s holds %s, which the embedded faces lack (they hold Latin scripts): it is left out.\n", what, lack)
		return ""
	}
	return text
}

// safeName is a name as a file may bear it anywhere: letters, digits, - and _ of ASCII,
// every other byte as its two digits after a %.
func safeName(name string) string {
	var b strings.Builder
	for i := range len(name) {
		c := name[i]
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_' {
			b.WriteByte(c)
			continue
		}
		fmt.Fprintf(&b, "%%%02X", c)
	}
	return b.String()
}
