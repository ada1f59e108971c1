// Package house_test holds the tree against the rules of the house: the map in
// docs/developers.md, who may import whom, and what the engine may not touch.
//
// Each rule (house_rules_test.go) turns facts about the tree into complaints, and
// house_broken_test.go breaks a made-up tree once for each of them, so that no rule
// can fall asleep.
package house_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/doc"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const (
	module  = "earstone"
	mapPage = "docs/developers.md"
)

// tree is what the rules judge.
type tree struct {
	order     []entry           // the map, foundation first
	packages  []unit            // packages with code of their own, not tests alone
	libraries []string          // module paths that go.mod requires
	texts     []text            // text files
	long      map[string]string // file over the bound -> why it may be
}

// entry is one line of the map.
type entry struct{ path, sentence string }

// unit is one package without its tests; its path is relative to the module.
type unit struct {
	path, name string
	comments   []string // package comments, one for each file that has one
	files      []file
}

// file is one Go file that is not a test.
type file struct {
	path    string
	lines   int
	imports []string
	starts  []int // lines that start a goroutine
	clock   []int // lines that read the clock
}

// text is one file of the tree that a person can read.
type text struct {
	path  string
	lines []string
}

func TestHouse(t *testing.T) {
	h := tree{order: readMap(t), packages: readPackages(t), libraries: readLibraries(t), texts: readTexts(t), long: longFiles}
	if len(h.order) == 0 || len(h.packages) == 0 || len(h.texts) == 0 {
		t.Fatalf("There is nothing to judge: %d lines of map, %d packages, %d text files.", len(h.order), len(h.packages), len(h.texts))
	}
	for _, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			for _, complaint := range r.of(h) {
				t.Error(complaint)
			}
		})
	}
}

// readMap reads the fenced block that opens with "```map"; a line that opens with
// # heads a folder.
func readMap(t *testing.T) []entry {
	t.Helper()
	return parseMap(readPage(t, mapPage))
}

func parseMap(page string) []entry {
	_, block, _ := strings.Cut(page, "\n```map\n")
	block, _, _ = strings.Cut(block, "\n```")
	var order []entry
	for line := range strings.Lines(block) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, sentence, _ := strings.Cut(line, " ")
		order = append(order, entry{name, strings.TrimSpace(sentence)})
	}
	return order
}

func readPackages(t *testing.T) []unit {
	t.Helper()
	out := run(t, "go", "list", "-e", "-json=ImportPath,Name,Dir,GoFiles,CgoFiles,IgnoredGoFiles,Error", "./...")
	var units []unit
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var listed struct {
			ImportPath, Name, Dir             string
			GoFiles, CgoFiles, IgnoredGoFiles []string
			Error                             *struct{ Err string }
		}
		err := decoder.Decode(&listed)
		if errors.Is(err, io.EOF) {
			return units
		}
		if err != nil {
			t.Fatalf("reading what go list says: %v", err)
		}
		if listed.Error != nil {
			t.Errorf("Package %s cannot be read: %s", listed.ImportPath, listed.Error.Err)
		}
		u := unit{path: inModule(listed.ImportPath), name: listed.Name}
		for _, name := range slices.Concat(listed.GoFiles, listed.CgoFiles, listed.IgnoredGoFiles) {
			if !strings.HasSuffix(name, "_test.go") {
				u.read(t, filepath.Join(listed.Dir, name))
			}
		}
		if len(u.files) > 0 {
			units = append(units, u)
		}
	}
}

// read adds one file to the unit; files for other systems count, generators that
// are programs of their own do not.
func (u *unit) read(t *testing.T, name string) {
	t.Helper()
	source, err := os.ReadFile(name)
	if err != nil {
		t.Fatalf("reading a Go file: %v", err)
	}
	here, err := os.Getwd()
	if err != nil {
		t.Fatalf("finding the root: %v", err)
	}
	short, err := filepath.Rel(here, name)
	if err != nil {
		t.Fatalf("placing %s: %v", name, err)
	}
	f, comment, owner := inspect(t, filepath.ToSlash(short), source)
	if owner != u.name {
		return
	}
	u.files = append(u.files, f)
	if comment != "" {
		u.comments = append(u.comments, comment)
	}
}

// inspect draws from one Go file what the rules ask: its facts, its package comment
// and the package it says it is of.
func inspect(t *testing.T, name string, source []byte) (f file, comment, owner string) {
	t.Helper()
	set := token.NewFileSet()
	parsed, err := parser.ParseFile(set, name, source, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		t.Fatalf("reading a Go file: %v", err)
	}
	f = file{path: name, lines: bytes.Count(source, []byte("\n"))}
	clock := "" // what this file calls the package time
	for _, spec := range parsed.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Fatalf("reading the imports of %s: %v", name, err)
		}
		f.imports = append(f.imports, imported)
		if imported == "time" {
			clock = "time"
			if spec.Name != nil {
				clock = spec.Name.Name
			}
		}
	}
	ast.Inspect(parsed, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			f.starts = append(f.starts, set.Position(n.Pos()).Line)
		case *ast.CallExpr: // sync.WaitGroup and errgroup.Group start one by a method
			if s, ok := n.Fun.(*ast.SelectorExpr); ok && s.Sel.Name == "Go" {
				f.starts = append(f.starts, set.Position(n.Pos()).Line)
			}
		case *ast.SelectorExpr:
			x, ok := n.X.(*ast.Ident)
			if ok && clock != "" && x.Name == clock && slices.Contains(clockReaders, n.Sel.Name) {
				f.clock = append(f.clock, set.Position(n.Pos()).Line)
			}
		}
		return true
	})
	return f, parsed.Doc.Text(), parsed.Name.Name
}

// clockReaders are the functions of package time that ask what time it is.
var clockReaders = []string{"Now", "Since", "Until", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer", "Sleep"}

// synopsis is the first sentence of a comment.
func synopsis(comment string) string { return new(doc.Package).Synopsis(comment) }

func readLibraries(t *testing.T) []string {
	t.Helper()
	var mod struct{ Require []struct{ Path string } }
	if err := json.Unmarshal(run(t, "go", "mod", "edit", "-json"), &mod); err != nil {
		t.Fatalf("reading go.mod: %v", err)
	}
	var libraries []string
	for _, r := range mod.Require {
		libraries = append(libraries, r.Path)
	}
	return libraries
}

// notOurs are folders that programs write, not people.
var notOurs = []string{".git", ".cache", "bin", "demo"}

func readTexts(t *testing.T) []text {
	t.Helper()
	var texts []text
	err := filepath.WalkDir(".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case !d.IsDir() && name == ".git": // a linked work tree: a note of where the history lies
			return nil
		case d.IsDir() && slices.Contains(notOurs, name):
			return filepath.SkipDir
		case !d.Type().IsRegular():
			return nil
		}
		raw, err := os.ReadFile(name)
		if err != nil || bytes.IndexByte(raw, 0) >= 0 {
			return err
		}
		texts = append(texts, text{filepath.ToSlash(name), strings.Split(string(raw), "\n")})
		return nil
	})
	if err != nil {
		t.Fatalf("walking the tree: %v", err)
	}
	return texts
}

func run(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	var complaints bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if err != nil {
		lines := bufio.NewScanner(&complaints)
		lines.Scan()
		t.Fatalf("running %s %s: %v: %s", name, strings.Join(args, " "), err, lines.Text())
	}
	return out
}

// inModule is an import path without the module's name; other paths come back whole.
func inModule(imported string) string {
	if imported == module {
		return "."
	}
	return strings.TrimPrefix(imported, module+"/")
}

func ours(imported string) bool {
	return imported == module || strings.HasPrefix(imported, module+"/")
}

// folder is the first part of a package's path.
func folder(p string) string { first, _, _ := strings.Cut(p, "/"); return first }

// imports are the imports of all files of the unit, each once, in order.
func (u unit) imports() []string {
	var all []string
	for _, f := range u.files {
		all = append(all, f.imports...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// engine says whether the unit is mathematics and domain: no input, no output, no clock.
func (u unit) engine() bool {
	return slices.Contains([]string{"statistics", "programme", "reading", "estimate", "plan"}, folder(u.path))
}

// within says whether an import path is the package named or lies beneath it.
func within(imported, named string) bool {
	return imported == named || strings.HasPrefix(imported, named+"/")
}
