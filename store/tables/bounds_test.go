package tables

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"

	"earstone/programme/finding"
	"earstone/programme/record"
)

// bomb is a zip file that unpacks to very much.
func bomb(t *testing.T, size int) string {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	part, err := w.Create("xl/worksheets/sheet1.xml")
	if err != nil {
		t.Fatal(err)
	}
	zeros := make([]byte, 1<<20)
	for range size >> 20 {
		if _, err := part.Write(zeros); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestTooLargeIsRefusedAndSaid(t *testing.T) {
	const header = "fish,species,caught_on,length,length_unit,length_kind,remark\n"
	for _, c := range []struct {
		name, file, content, want string
	}{
		{"zip bomb", "season.xlsx", bomb(t, 64<<20), `too_large season.xlsx:0: "" ["unpacked" "2147483648"]`},
		{"no workbook", "season.xlsx", "PK", `not_readable season.xlsx:0: "" ["damaged_workbook"]`},
		{"long cell", "fish.csv", header + "EB-1,BFT,2031,,,," + strings.Repeat("x", maxCell+1) + "\n",
			`too_large fish.csv:2:remark "` + strings.Repeat("x", 40) + `" ["cell" "65536"]`},
		{"many columns", "fish.csv", strings.Repeat("a,", maxColumns) + "b\n", `too_large fish.csv:1: "" ["columns" "500"]`},
		{"endless row", "fish.csv", header + strings.Repeat("x", maxRecord+1), `too_large fish.csv:2: "" ["row" "4194304"]`},
		{"endless settings", "datapackage.json", strings.Repeat(" ", maxJSON+1), `too_large datapackage.json:0: "" ["file" "4194304"]`},
	} {
		t.Run(c.name, func(t *testing.T) {
			tables := opened(t, map[string]string{c.file: c.content})
			book(t, tables)
			wantTold(t, tables.Findings(), c.want)
		})
	}
}

func TestEveryFaultOfAHeaderIsTold(t *testing.T) {
	tables := opened(t, map[string]string{
		"Fish.csv":  "fish,specis,caught_on,length,lenght_unit,length_kind,sex,sex\n",
		"trips.csv": "",
		"catch.csv": "year,species\n",
		"fish.csv":  "fish\n",
	})
	book(t, tables)
	wantTold(t, tables.Findings(),
		`twice_table fish.csv:0: "fish" ["Fish.csv"]`,
		`no_header trips.csv:0: "" []`,
		`empty_table catch.csv:0: "" []`,
		`twice_column Fish.csv:1:sex "sex" []`,
		`missing_column Fish.csv:1:species "" ["specis"]`,
		`missing_column Fish.csv:1:length_unit "" ["lenght_unit"]`,
		`unknown_column Fish.csv:1:specis "specis" ["species"]`,
		`unknown_column Fish.csv:1:lenght_unit "lenght_unit" ["length_unit"]`)
}

func TestAMillionFaultsAreCountedAndAThousandKept(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("trip,species,length,unit,kind,count\n")
	const n = 200_000
	for range n {
		rows.WriteString("T-99,BFT,2l4,cm,straight_fork,1\n")
	}
	tables := opened(t, map[string]string{"trips.csv": "trip,landed_on\nT-01,2031-06-02\n", "lengths.csv": rows.String()})
	if err := tables.Lengths(func(*record.LengthCount) error { t.Fatal("a row with an error was handed over"); return nil }); err != nil {
		t.Fatal(err)
	}
	found := tables.Findings()
	if len(found.All()) != 2000 || found.Of(finding.Error) != 2*n || found.Beyond() != 2*n-2000 {
		t.Errorf("%d kept and %d counted, want 2000 and %d", len(found.All()), found.Of(finding.Error), 2*n)
	}
}

// A scale that no microscope has is a slip of the pen: distances by it would be nothing, or
// longer than the fish.
func TestScaleOfAPictureIsBounded(t *testing.T) {
	const header = "image,preparation,file,um_per_pixel\n"
	for scale, taken := range map[string]bool{"0.01": true, "1000": true, "0.5": true, "0.0099": false, "1e-320": false, "999999999999": false, "0": false, "-1": false} {
		_, found := readBytes(t, images, []byte(header+"P-1,L-1,a.tif,"+scale+"\n"))
		if got := found.Of(finding.Error) == 0; got != taken {
			t.Errorf("a picture of %s µm per pixel is taken: %v, want %v (%v)", scale, got, taken, told(found))
		}
	}
}
