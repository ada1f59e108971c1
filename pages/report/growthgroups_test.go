package report

import (
	"strings"
	"testing"

	"earstone/estimate/growth"
	"earstone/estimate/run"
)

// grouped is a season in which males are a tenth longer, but for what is changed.
func grouped(t *testing.T, change func(*run.GroupsFound)) (*told, *run.GroupsFound) {
	t.Helper()
	k := grown(t)
	cells := k.s.Growth.Cells.Data
	var d growth.Data
	for i, age := range cells.Age {
		d.Age, d.Length = append(d.Age, age, age), append(d.Length, cells.Length[i], cells.Length[i]*1.1)
		d.Group, d.Cluster = append(d.Group, 0, 1), append(d.Cluster, i%30, i%30)
	}
	g := &run.GroupsFound{By: "sex", Names: []string{"F", "M"}, Fish: []int{240, 240}, Left: 7}
	apart, err := growth.FitCurve(d, growth.Settings{Apart: []bool{true, true, true}})
	if err != nil {
		t.Fatal(err)
	}
	g.Apart = &apart
	g.Equal, g.Tested = apart.Equal([]bool{true, true, true})
	d.Cluster = nil
	if g.Comparison, err = growth.Compare(d, growth.Settings{}); err != nil {
		t.Fatal(err)
	}
	for i := range g.Names {
		g.Bands = append(g.Bands, apart.Band(i, []float64{1, 2, 3}, 0.95))
		g.Parameters = append(g.Parameters, []run.Estimate{estimated(240, 3), estimated(0.2, 0.01), estimated(-0.8, 0.1)})
	}
	change(g)
	k.s.Growth.Groups = []*run.GroupsFound{g}
	return k, g
}

func TestSentencesOfGroups(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*run.GroupsFound)
		want   []string
	}{
		{"sexes that differ", func(*run.GroupsFound) {}, []string{"Growth differs between the sexes by more than chance (p under 0.001, with trips as what is drawn).", "curves that differ in Linf have the lowest AICc", "7 fish are in none of these groups."}},
		{"sexes that do not", func(g *run.GroupsFound) { g.Equal.P, g.Comparison.Best, g.Left = 0.3, 0, 0 }, []string{"Growth of the sexes could not be told apart (p 0.30, with trips as what is drawn). Of fish counted once, and as if drawn singly, one curve for all has the lowest AICc."}},
		{"called nurseries", func(g *run.GroupsFound) { g.By, g.Tested = "nursery", false }, []string{"Whether growth differs between the nurseries could not be tested", "wrong calls make the curves alike."}},
		{"no curves", func(g *run.GroupsFound) { g.Apart, g.NoApart = nil, &growth.Trouble{Reason: growth.TooFewAges} }, []string{"The curves of the sexes could not be set side by side. No ", "too few different ages"}},
	} {
		k, g := grouped(t, c.change)
		section := k.growth()
		drawn := len(section.Sets) == 4
		if drawn != (g.Apart != nil) {
			t.Errorf("%s: the chapter has %d sets of pictures", c.what, len(section.Sets))
		}
		for _, want := range c.want {
			if says := k.groupsSay(g); !strings.Contains(plain(says), want) {
				t.Errorf("%s: the page says\n%s\nwhich lacks\n%s", c.what, plain(says), want)
			}
		}
	}
}

func TestTablesOfGroups(t *testing.T) {
	k, g := grouped(t, func(*run.GroupsFound) {})
	cases := casesTable(g)
	if len(cases.Rows) != 8 || cases.Rows[0][0] != "Linf" || cases.Rows[7][0] != "nothing" || cases.Rows[7][4] != none {
		t.Errorf("the cases stand as %v, want Linf first of 8 and one curve last, against nothing", cases.Rows)
	}
	curves := k.groupCurves(g, "says")
	if rows := curves.Table.Rows; len(rows) != 6 || rows[0][0] != "female" || rows[3][0] != "male" || rows[3][2] != "240" {
		t.Errorf("the curves stand as %v, want three parameters of each sex and its 240 fish", rows)
	}
	for _, name := range []string{">female<", ">male<"} {
		if !strings.Contains(string(curves.Picture), name) {
			t.Errorf("the picture does not name %s", name)
		}
	}
}
