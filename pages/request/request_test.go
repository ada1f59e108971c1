package request

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"golang.org/x/net/html"

	"earstone/programme/record"
)

// planned is a plan of two months at two banks.
var planned = fstest.MapFS{
	"quotas.csv": {Data: []byte("species,quarter,month,area,gear,item,length,number\n" +
		"BFT,2,5,Skell,line,trip,,4\nBFT,2,5,Skell,line,stone,160,3\nBFT,2,5,Skell,line,stone,90,2\nBFT,1,2,Quarrow,,trip,,2\n")},
	"rereading.csv":    {Data: []byte("species,fish,age,readings,unresolved,influence\nBFT,QB-00007-3,9,2,true,0.4\nBFT,QB-00009-1,7,1,false,0.2\n")},
	"predicted_cv.csv": {Data: []byte("species,quantity,age,want_cv,resampled_cv,today_cv,planned_cv\nBFT,catch_at_age,7,0.15,0.2,0.18,0.14\nBFT,catch_at_age,9,0.15,0.3,0.28,0.22\n")},
	"worth.csv": {Data: []byte("species,quarter,month,area,gear,item,length,today,obtainable,planned,cost,gain,gain_by_cost\n" +
		"BFT,2,,Skell,line,trip,,3,6,4,240,0.2,0.0008\nBFT,2,,Skell,line,stone,160,2,9,3,40,0.1,0.0025\nBFT,,,,,second_reading,,10,50,20,5,0.01,0.002\n")},
}

func opened(t testing.TB) *Plan {
	t.Helper()
	p, err := Open(planned)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPlacesStandByMonth(t *testing.T) {
	s := opened(t).Species[0]
	if len(s.Places) != 2 || s.Places[0].Month != 2 || s.Places[0].Gear != "" || s.Places[0].Trips != 2 {
		t.Fatalf("the places are %+v, want February at Quarrow first", s.Places)
	}
	may := s.Places[1]
	if may.Trips != 4 || may.Count() != 5 || may.Stones[0] != (Bin{90, 2}) {
		t.Errorf("May at Skell asks for %+v, want 4 trips and 5 ear stones from the shortest fish up", may)
	}
	if s.Expected != [3]Items{{3, 4}, {2, 3}, {10, 20}} {
		t.Errorf("in all the plan holds %v", s.Expected)
	}
}

// The page is a request: it says so, holds every quota, and tells no age of a fish that
// is to be read again.
func TestPage(t *testing.T) {
	text, err := opened(t).HTML(About{Programme: "Quarrow Banks <b>programme</b>", Made: "14 January 2033", Bin: record.LengthBin{Width: 10, Unit: "cm", Kind: record.CurvedFork},
		AreaName: func(code string) string { return "Bank of " + code }})
	if err != nil {
		t.Fatal(err)
	}
	page := string(text)
	for _, said := range []string{"a wish and no leave", "local law and licence", "<h3>February</h3>", "<h3>May</h3>", "Bank of Skell", "<b>3</b> of 160–170", "QB-00007-3", "read 2×, not settled",
		"With sampling as in the last season 0 of 2 ages are as sure as wanted; with this plan 1 would be.", "cm, curved fork length", "&lt;b&gt;programme"} {
		if !strings.Contains(page, said) {
			t.Errorf("the page does not say %q", said)
		}
	}
	if strings.Index(page, "February") > strings.Index(page, "May</h3>") {
		t.Error("May stands before February")
	}
	again := page[strings.Index(page, `class="again"`):]
	for _, secret := range []string{">9<", ">7<", " 9 ", "age 9", "0.4"} {
		if strings.Contains(again, secret) {
			t.Errorf("the list of what to read again tells %q, which a count must not know", secret)
		}
	}
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		if n.Data == "script" || n.Data == "link" || n.Data == "img" {
			t.Errorf("the page holds <%s>", n.Data)
		}
		for _, a := range n.Attr {
			if a.Key == "href" || a.Key == "src" || a.Key == "style" {
				t.Errorf("<%s> has %s=%q", n.Data, a.Key, a.Val)
			}
		}
	}
}

func TestWhatCannotBeRead(t *testing.T) {
	broken := fstest.MapFS{}
	for name, file := range planned {
		broken[name] = file
	}
	broken["quotas.csv"] = &fstest.MapFile{Data: []byte("species,month,item,number\nBFT,5,trip,2l\n")}
	if _, err := Open(broken); err == nil || !strings.Contains(err.Error(), `quotas.csv of a plan: number "2l" is no number`) {
		t.Errorf("a quota of 2l is read with the error %v", err)
	}
	delete(broken, "quotas.csv")
	if _, err := Open(broken); err == nil {
		t.Error("a plan without quotas is read")
	}
}

func ExampleBinName() {
	fmt.Println(BinName(150, record.LengthBin{Width: 10, Unit: "cm"}), "and", BinName(150, record.LengthBin{}))
	fmt.Println(MonthName(0, 5), "or", MonthName(2, 0))
	// Output:
	// 150–160 and from 150
	// May or Quarter 2, any month
}
