package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func TestSayFillsItsPlaces(t *testing.T) {
	told := Told{"fits": "{n} of {of} fish {n}", "fish.one": "{n} fish", "fish.many": "{n} fishes"}
	if got := told.Say("fits", "n", "{of}", "of", "7"); got != "{of} of 7 fish {of}" {
		t.Errorf("the sentence reads %q: values must stand as they are", got)
	}
	if one, many := told.Count("fish", 1), told.Count("fish", 1200); one != "1 fish" || many != "1\u202F200 fishes" {
		t.Errorf("the counts read %q and %q", one, many)
	}
	for what, say := range map[string]func(){
		"a name that is none":     func() { told.Say("nothing") },
		"a place without a value": func() { told.Say("fits", "n", "1") },
		"a value without a place": func() { told.Say("fits", "n", "1", "of", "2", "in", "3") },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s went through", what)
				}
			}()
			say()
		}()
	}
}

// Every sentence of the report is asked for by its code, and all it asks for are there.
// A name that ends in a point is the beginning of several.
func TestReportAsksForWhatIsTold(t *testing.T) {
	asked, begun := askedFor(t)
	for name := range asked {
		if _, ok := Report[name]; !ok {
			t.Errorf("the report asks for %s, of which nothing is told", name)
		}
	}
	for name := range Report {
		if !asked[name] && !beginsWithOne(name, begun) {
			t.Errorf("nobody asks for %s", name)
		}
		if Report[name] == "" || strings.Count(Report[name], "{") != strings.Count(Report[name], "}") {
			t.Errorf("%s reads %q", name, Report[name])
		}
	}
	for _, begin := range begun {
		found := false
		for name := range Report {
			found = found || strings.HasPrefix(name, begin)
		}
		if !found {
			t.Errorf("the report asks for sentences that begin with %s, and there are none", begin)
		}
	}
}

func beginsWithOne(name string, begun []string) bool {
	for _, begin := range begun {
		if strings.HasPrefix(name, begin) {
			return true
		}
	}
	return false
}

var sentenceName = regexp.MustCompile(`^[a-zA-Z0-9_]+(\.[a-zA-Z0-9_]+)*\.?$`)

// askedFor reads the names that package report gives to say and counted.
func askedFor(t *testing.T) (asked map[string]bool, begun []string) {
	t.Helper()
	files, err := filepath.Glob("../report/*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no code of the report: %v", err)
	}
	asked = map[string]bool{}
	for _, file := range files {
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			function, ok := call.Fun.(*ast.Ident)
			if !ok || function.Name != "say" && function.Name != "counted" {
				return true
			}
			argument := call.Args[0]
			for sum, ok := argument.(*ast.BinaryExpr); ok; sum, ok = argument.(*ast.BinaryExpr) {
				argument = sum.X
			}
			literal, ok := argument.(*ast.BasicLit)
			if !ok {
				return true
			}
			name, err := strconv.Unquote(literal.Value)
			if err != nil || !sentenceName.MatchString(name) {
				t.Errorf("%s asks for %s, which is no name of a sentence", file, literal.Value)
				return true
			}
			switch {
			case function.Name == "counted":
				asked[name+".one"], asked[name+".many"] = true, true
			case strings.HasSuffix(name, "."):
				begun = append(begun, name)
			default:
				asked[name] = true
			}
			return true
		})
	}
	return asked, begun
}
