package finding

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"testing"
)

// declared are the kinds that kind.go declares.
func declared(t *testing.T) (kinds []Kind) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "kind.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if spec, ok := n.(*ast.ValueSpec); ok {
			for _, value := range spec.Values {
				text, err := strconv.Unquote(value.(*ast.BasicLit).Value)
				if err != nil {
					t.Fatal(err)
				}
				kinds = append(kinds, Kind(text))
			}
		}
		return true
	})
	return kinds
}

func TestKindsAreAllThatAreDeclared(t *testing.T) {
	if got, want := Kinds(), declared(t); !slices.Equal(got, want) {
		t.Errorf("Kinds() = %q, want those of kind.go, %q", got, want)
	}
}

func TestListKeepsAThousandAndCountsTheRest(t *testing.T) {
	var l List
	for row := range 2500 {
		l.Add(NotNumber, Place{File: "fish.csv", Row: row + 2, Column: "length"}, "x")
	}
	l.Add(NotNumber, Place{File: "fish.csv", Row: 2, Column: "weight"}, "x")
	if len(l.All()) != 1001 || l.Of(Error) != 2501 || l.Beyond() != 1500 {
		t.Errorf("kept %d, counted %d, beyond %d; want 1001, 2501 and 1500", len(l.All()), l.Of(Error), l.Beyond())
	}
}

func TestJoiningCountsWhatWasNotKept(t *testing.T) {
	var l, other List
	for row := range 2500 {
		other.Add(NotNumber, Place{File: "fish.csv", Row: row + 2, Column: "length"}, "x")
	}
	other.Add(NoEdge, Place{File: "readings.csv", Row: 2}, "")
	l.Join(&other)
	l.Join(other.Moved(func(file string) string { return "season.xlsx#" + file }))
	if l.Of(Error) != 5000 || l.Of(Warning) != 2 || len(l.All()) != 2002 || l.Beyond() != 3000 {
		t.Errorf("%d errors, %d warnings, %d kept, %d beyond; want 5000, 2, 2002 and 3000", l.Of(Error), l.Of(Warning), len(l.All()), l.Beyond())
	}
	if got := l.All()[2001].Place.File; got != "season.xlsx#readings.csv" {
		t.Errorf("the last finding lies in %s", got)
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct {
		name  string
		among []string
		want  string
	}{
		{"lenght", []string{"weight", "length"}, "length"},
		{"Caught-On", []string{"received_on", "caught_on"}, "caught_on"},
		{"boat", []string{"fish", "species"}, ""},
		{"", []string{"a"}, ""},
		{"BTF", []string{"YFT", "BFT"}, "BFT"},
	} {
		if got := Nearest(c.name, c.among); got != c.want {
			t.Errorf("nearest to %q among %q is %q, want %q", c.name, c.among, got, c.want)
		}
	}
}
