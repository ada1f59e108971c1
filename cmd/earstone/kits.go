package main

import (
	"bytes"
	"crypto/rand"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"earstone/pages/words"
	"earstone/programme/date"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/tables"
)

// kitsFile is the table of kits in the folder of a programme; docs/tables.md tells it.
const kitsFile = "kits.csv"

var kitColumns = []string{"kit", "contributor", "first", "last", "sent_on", "cancelled_on", "why", "thanked_on", "reward", "promised_on", "rewarded_on", "remark", "phone_code"}

// readKits reads the table of kits; without one there are none. What is wrong in it is
// found, row by row.
func readKits(src string, found *finding.List) ([]label.Kit, error) {
	content, err := os.ReadFile(filepath.Join(src, kitsFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reading the kits: %w", err)
	}
	return parseKits(bytes.TrimPrefix(content, []byte("\ufeff")), found), nil
}

func parseKits(content []byte, found *finding.List) (kits []label.Kit) {
	in := csv.NewReader(bytes.NewReader(content))
	in.FieldsPerRecord = -1
	at := map[string]int{}
	ids := map[string]int{}
	for row := 1; ; row++ {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			found.Add(finding.BrokenQuote, finding.Place{File: kitsFile, Row: row}, "")
			return kits
		}
		if row == 1 {
			for i, name := range cells {
				at[name] = i
			}
			for _, name := range []string{"kit", "first", "last"} {
				if _, there := at[name]; !there {
					found.Add(finding.MissingColumn, finding.Place{File: kitsFile, Row: 1, Column: name}, "", finding.Nearest(name, cells))
					return nil
				}
			}
			continue
		}
		kits = append(kits, kitRow{cells, at, row, found}.kit())
		kit := kits[len(kits)-1].Kit
		if first, twice := ids[kit]; twice {
			found.Add(finding.TwiceID, finding.Place{File: kitsFile, Row: row, Column: "kit"}, kit, strconv.Itoa(first))
		}
		ids[kit] = row
	}
	codes := map[label.KitCode]int{}
	for _, k := range kits {
		if first, twice := codes[k.PhoneCode]; twice && k.PhoneCode.Known() {
			found.Add(finding.TwiceID, finding.Place{File: kitsFile, Row: k.Row, Column: "phone_code"}, k.PhoneCode.String(), strconv.Itoa(first))
		}
		codes[k.PhoneCode] = k.Row
	}
	for _, pair := range label.Twice(kits) {
		a, b := kits[pair[0]], kits[pair[1]]
		found.Keep(finding.Finding{Kind: finding.Contradiction, Severity: finding.Error,
			Place: finding.Place{File: kitsFile, Row: b.Row, Column: "first"}, Value: b.Codes.First.String(),
			Facts: []string{fmt.Sprintf("%s, row %d", kitsFile, a.Row), fmt.Sprintf("%s to %s", a.Codes.First, a.Codes.Last)}})
	}
	return kits
}

// kitRow is one row of the table.
type kitRow struct {
	cells []string
	at    map[string]int
	row   int
	found *finding.List
}

func (r kitRow) text(column string) string {
	if i, there := r.at[column]; there && i < len(r.cells) {
		return r.cells[i]
	}
	return ""
}

func (r kitRow) place(column string) finding.Place {
	return finding.Place{File: kitsFile, Row: r.row, Column: column}
}

func (r kitRow) day(column string) date.Day {
	d, ok := date.Parse(r.text(column))
	if !ok {
		r.found.Add(finding.NotDate, r.place(column), r.text(column), "")
	}
	return d
}

func (r kitRow) code(column string) label.Code {
	read := label.Parse(r.text(column))
	if read.Remark.Refuses() {
		texts, _ := words.PrintedIn("en")
		r.found.Add(finding.NotThisThing, r.place(column), r.text(column), "a label. "+texts.Label(read))
	}
	return read.Code
}

func (r kitRow) kit() label.Kit {
	k := label.Kit{
		Kit: r.text("kit"), Contributor: r.text("contributor"), Codes: label.Range{First: r.code("first"), Last: r.code("last")},
		SentOn: r.day("sent_on"), CancelledOn: r.day("cancelled_on"), Why: r.text("why"), ThankedOn: r.day("thanked_on"),
		Reward: r.text("reward"), PromisedOn: r.day("promised_on"), RewardedOn: r.day("rewarded_on"), Remark: r.text("remark"), Row: r.row,
	}
	if typed := r.text("phone_code"); typed != "" {
		var ok bool
		if k.PhoneCode, ok = label.ParseKitCode(typed); !ok {
			r.found.Add(finding.NotThisThing, r.place("phone_code"), typed, "the code of a kit: eight letters and a check letter, as earstone labels --phone makes them")
		}
	}
	if k.Kit == "" {
		r.found.Add(finding.Needed, r.place("kit"), "")
	}
	if k.Codes.First.Known() && k.Codes.Last.Known() && k.Codes.Count() == 0 {
		r.found.Add(finding.NotThisThing, r.place("last"), r.text("last"), "a label of the same prefix as "+k.Codes.First.String()+", not before it")
	}
	return k
}

// writeKits replaces the table of kits whole.
func writeKits(src string, kits []label.Kit) error {
	var out bytes.Buffer
	w := tables.NewWriter(&out)
	w.Row(kitColumns...)
	for _, k := range kits {
		w.Row(k.Kit, k.Contributor, k.Codes.First.String(), k.Codes.Last.String(), k.SentOn.String(), k.CancelledOn.String(), k.Why,
			k.ThankedOn.String(), k.Reward, k.PromisedOn.String(), k.RewardedOn.String(), k.Remark, k.PhoneCode.String())
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("writing the kits: %w", err)
	}
	return replace(filepath.Join(src, kitsFile), out.Bytes())
}

// holdKits keeps a second command from giving out the same labels: while it holds, no
// other may change the kits of the programme.
func holdKits(src string) (release func(), err error) {
	path := filepath.Join(src, ".kits.lock")
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("another command is changing the kits of %s: wait for it; if there is none, remove %s", src, path)
	}
	if err != nil {
		return nil, fmt.Errorf("holding the kits of %s: %w", src, err)
	}
	return func() { _ = errors.Join(file.Close(), os.Remove(path)) }, nil
}

// enteredRoll is every code that was given out: of kits, and on fish that came.
func enteredRoll(kits []label.Kit, fish []record.Fish) (roll *label.Roll, came []label.Code) {
	roll = &label.Roll{}
	for _, k := range kits {
		roll.Enter(k.Codes.Last)
	}
	for i := range fish {
		if read := label.Parse(string(fish[i].Fish)); read.Code.Known() {
			roll.Enter(read.Code)
			came = append(came, read.Code)
		}
	}
	return roll, came
}

// newKitCode draws the code of a kit so that nobody can guess it.
func newKitCode() label.KitCode {
	return label.NewKitCode(func(n int) int {
		drawn, err := rand.Int(rand.Reader, big.NewInt(int64(n)))
		if err != nil {
			panic("earstone: the system gives no random numbers: " + err.Error())
		}
		return int(drawn.Int64())
	})
}

// nextKit is the name of the next kit: K-0001 and on, never one that was there.
func nextKit(kits []label.Kit) string {
	for n := len(kits) + 1; ; n++ {
		name := fmt.Sprintf("K-%04d", n)
		if !slices.ContainsFunc(kits, func(k label.Kit) bool { return k.Kit == name }) {
			return name
		}
	}
}

// prefixOf is the prefix that was asked for, or else that of the last kit, or none.
func prefixOf(src, asked string) string {
	if asked != "" {
		return asked
	}
	kits, err := readKits(src, &finding.List{})
	if err != nil || len(kits) == 0 {
		return ""
	}
	return kits[len(kits)-1].Codes.First.Prefix()
}
