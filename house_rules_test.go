package house_test

import (
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
)

// rule is one thing that the house keeps; of gives a sentence for each breach.
type rule struct {
	name string
	of   func(tree) []string
}

var rules = []rule{
	{"map names every package", mapNamesEveryPackage},
	{"imports go down the map", importsGoDown},
	{"folders keep to themselves", foldersKeepToThemselves},
	{"engine touches nothing outside", engineTouchesNothing},
	{"engine reads no clock", engineReadsNoClock},
	{"engine starts goroutines in one place", goroutinesInOnePlace},
	{"library has one owner", libraryHasOneOwner},
	{"packages for tests serve tests", testsAlone},
	{"package comment opens with a sentence", commentOpens},
	{"package name says something", nameSaysSomething},
	{"file keeps its bound", filesKeepBound},
	{"text names no host", textNamesNoHost},
}

func mapNamesEveryPackage(h tree) (complaints []string) {
	listed, there := map[string]bool{}, map[string]bool{}
	for _, u := range h.packages {
		there[u.path] = true
	}
	for _, e := range h.order {
		switch {
		case listed[e.path]:
			complaints = append(complaints, fmt.Sprintf("The map names %s twice.", e.path))
		case !there[e.path]:
			complaints = append(complaints, fmt.Sprintf("The map names %s, and there is no such package. Take the line out of %s.", e.path, mapPage))
		case e.sentence == "":
			complaints = append(complaints, fmt.Sprintf("The map does not say what %s holds.", e.path))
		}
		listed[e.path] = true
	}
	for _, u := range h.packages {
		if !listed[u.path] {
			complaints = append(complaints, fmt.Sprintf("Package %s is missing from the map in %s.", u.path, mapPage))
		}
	}
	return complaints
}

// importsGoDown leaves a package that the map lacks to mapNamesEveryPackage.
func importsGoDown(h tree) (complaints []string) {
	place := map[string]int{}
	for i, e := range h.order {
		place[e.path] = i
	}
	for _, u := range h.packages {
		mine, listed := place[u.path]
		for _, imported := range u.imports() {
			theirs, known := place[inModule(imported)]
			if ours(imported) && listed && known && theirs >= mine {
				complaints = append(complaints, fmt.Sprintf("Package %s imports %s, which stands after it in the map.", u.path, inModule(imported)))
			}
		}
	}
	return complaints
}

// mayImport names, for the folders that keep to themselves, the folders of ours that
// their packages may import.
var mayImport = map[string][]string{
	"statistics": {"statistics"},
	"programme":  {"programme"},
	"store":      {"store", "programme"}, // it knows no estimator: cmd joins the two
}

func foldersKeepToThemselves(h tree) (complaints []string) {
	for _, u := range h.packages {
		allowed, bound := mayImport[folder(u.path)]
		for _, imported := range u.imports() {
			if bound && ours(imported) && !slices.Contains(allowed, folder(inModule(imported))) {
				complaints = append(complaints, fmt.Sprintf("Package %s imports %s, but %s may import of ours only what lies in %s.",
					u.path, inModule(imported), folder(u.path), strings.Join(allowed, " or ")))
			}
		}
	}
	return complaints
}

// outside are packages that reach out of the engine, with all beneath them; chance
// comes from statistics/stream alone, so that a run can be repeated to the bit.
var outside = []string{"os", "net", "database/sql", "log", "html/template", "math/rand", "crypto/rand", "syscall"}

func engineTouchesNothing(h tree) (complaints []string) {
	for _, u := range h.packages {
		for _, imported := range u.imports() {
			reaches := func(named string) bool { return within(imported, named) }
			if u.engine() && slices.ContainsFunc(outside, reaches) {
				complaints = append(complaints, fmt.Sprintf("Package %s imports %s: the engine does no input or output, and draws from statistics/stream only.", u.path, imported))
			}
		}
	}
	return complaints
}

func engineReadsNoClock(h tree) (complaints []string) {
	for _, u := range h.packages {
		for _, f := range u.files {
			for _, line := range f.clock {
				if u.engine() {
					complaints = append(complaints, fmt.Sprintf("%s, line %d, reads the clock: in the engine the time comes in from cmd.", f.path, line))
				}
			}
		}
	}
	return complaints
}

func goroutinesInOnePlace(h tree) (complaints []string) {
	for _, u := range h.packages {
		for _, f := range u.files {
			for _, line := range f.starts {
				if u.engine() && u.path != "estimate/resample" {
					complaints = append(complaints, fmt.Sprintf("%s, line %d, starts a goroutine: in the engine only estimate/resample does.", f.path, line))
				}
			}
		}
	}
	return complaints
}

const gonum = "gonum.org/v1/gonum"

func libraryHasOneOwner(h tree) (complaints []string) {
	owners := map[string][]string{}
	for _, u := range h.packages {
		of := map[string]bool{}
		for _, imported := range u.imports() {
			lib := library(imported, h.libraries)
			if lib != "" && !(lib == gonum && u.engine()) {
				of[lib] = true
			}
		}
		for lib := range of {
			owners[lib] = append(owners[lib], u.path)
		}
	}
	for _, lib := range slices.Sorted(maps.Keys(owners)) {
		if len(owners[lib]) > 1 {
			complaints = append(complaints, fmt.Sprintf("Library %s is imported by %s; one package owns a library, the others ask it.", lib, strings.Join(owners[lib], " and ")))
		}
	}
	return complaints
}

// library is the module that an import comes from, "" for ours and the standard
// library. The modules under golang.org/x are collections: there each package is one.
func library(imported string, modules []string) string {
	if ours(imported) || !strings.Contains(folder(imported), ".") {
		return ""
	}
	if strings.HasPrefix(imported, "golang.org/x/") {
		return imported
	}
	longest := imported
	for _, m := range modules {
		if within(imported, m) && (longest == imported || len(m) > len(longest)) {
			longest = m
		}
	}
	return longest
}

// forTests are packages that stay out of the program, with all beneath them: the data
// sets of reference keep their own licences.
var forTests = []string{"reference", "pages/pagetest", "store/storetest"}

func testsAlone(h tree) (complaints []string) {
	for _, u := range h.packages {
		for _, imported := range u.imports() {
			for _, kept := range forTests {
				if within(imported, module+"/"+kept) && !within(u.path, kept) {
					complaints = append(complaints, fmt.Sprintf("Package %s imports %s, which is there for tests and stays out of the program.", u.path, kept))
				}
			}
		}
	}
	return complaints
}

func commentOpens(h tree) (complaints []string) {
	for _, u := range h.packages {
		if len(u.comments) != 1 {
			complaints = append(complaints, fmt.Sprintf("Package %s has %d package comments; it wants one, in one file.", u.path, len(u.comments)))
			continue
		}
		openings := []string{"Package " + u.name + " "}
		if u.name == "main" {
			openings = []string{"Command ", "Earstone "}
		}
		first := synopsis(u.comments[0])
		opens := func(opening string) bool { return strings.HasPrefix(first, opening) }
		if !slices.ContainsFunc(openings, opens) || !strings.HasSuffix(first, ".") {
			complaints = append(complaints, fmt.Sprintf("The comment of package %s opens %q; it wants one whole sentence that opens with %q.", u.path, first, openings[0]))
		}
	}
	return complaints
}

// sayNothing are names that would fit any package.
var sayNothing = []string{"util", "utils", "common", "helper", "helpers", "misc", "type", "types", "model", "models", "manager", "base", "shared"}

func nameSaysSomething(h tree) (complaints []string) {
	for _, u := range h.packages {
		for _, name := range slices.Compact([]string{u.name, path.Base(u.path)}) {
			if slices.Contains(sayNothing, name) {
				complaints = append(complaints, fmt.Sprintf("Package %s is called %s, which says nothing; a package is named after its one idea.", u.path, name))
			}
		}
	}
	return complaints
}

// bound is the length of a file in lines above which it needs a reason.
const bound = 500

// longFiles are the files over the bound, each with the reason why it is one idea.
var longFiles = map[string]string{}

func filesKeepBound(h tree) (complaints []string) {
	over := map[string]bool{}
	for _, u := range h.packages {
		for _, f := range u.files {
			if f.lines <= bound {
				continue
			}
			over[f.path] = true
			if h.long[f.path] == "" {
				complaints = append(complaints, fmt.Sprintf("%s has %d lines, over the bound of %d: part it, or give the reason in longFiles.", f.path, f.lines, bound))
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(h.long)) {
		if !over[name] {
			complaints = append(complaints, fmt.Sprintf("longFiles excuses %s, which is not over %d lines (any more): take it out.", name, bound))
		}
	}
	return complaints
}

// unwelcome are hosts of package registries and folders of one machine: the project
// must build from any mirror and stand in any folder. In pieces, so that this file
// does not break the rule itself.
var unwelcome = []string{
	"proxy." + "golang", "sum." + "golang", "registry." + "npmjs", "deb." + "debian", "security." + "debian",
	"py" + "pi.org", "python" + "hosted.org", "crates" + ".io",
	"/" + "work/", "/" + "farm/",
}

func textNamesNoHost(h tree) (complaints []string) {
	for _, f := range h.texts {
		for i, line := range f.lines {
			lower := strings.ToLower(line)
			for _, word := range unwelcome {
				if strings.Contains(lower, word) {
					complaints = append(complaints, fmt.Sprintf("%s, line %d, says %q: no registry's host and no machine's own folder belongs in the project.", f.path, i+1, word))
				}
			}
		}
	}
	return complaints
}
