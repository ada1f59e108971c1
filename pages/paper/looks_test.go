package paper

import (
	"os"
	"testing"
	"time"

	"earstone/pages/words"
)

func TestLooks(t *testing.T) {
	dir := os.Getenv("LOOKS")
	if dir == "" {
		t.Skip()
	}
	en, _ := words.PrintedIn("en")
	about := About{Title: "x", Language: "en", Made: time.Date(2031, 5, 2, 0, 0, 0, 0, time.UTC)}
	save := func(name string, d *Doc) {
		b, err := d.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		os.WriteFile(dir+"/"+name+".pdf", b, 0o644)
	}
	for _, s := range Stocks() {
		save("labels-"+s.Name, Labels{Stock: s, Codes: codes(t, "QB", 412, s.Count()), Name: "Quarrow Banks ear-stone programme", About: about}.Document())
	}
	save("cards-a4", Cards{Sheet: A4, Codes: codes(t, "QB", 412, 4), Name: "Quarrow Banks ear-stone programme", Areas: []string{"Quarrow", "Skell", "Dunmarrow"}, Words: en, About: about}.Document())
	save("cards-letter", Cards{Sheet: Letter, Codes: codes(t, "QB", 412, 4), Name: "Quarrow Banks ear-stone programme", Inches: true, Pounds: true, Words: en, About: about}.Document())
}
