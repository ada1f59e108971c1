package tables

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"earstone/programme/finding"
)

// locate finds where each table stands: what datapackage.json says, what lies in the
// folder under the name of a table, and the sheets of its workbooks.
func (t *Tables) locate() error {
	t.places = map[string]place{}
	if t.only != "" {
		return t.locateSheets(t.only)
	}
	if err := t.locatePackage(); err != nil {
		return err
	}
	entries, err := fs.ReadDir(t.files, ".")
	if err != nil {
		return fmt.Errorf("listing the folder of the programme: %w", err)
	}
	for _, entry := range entries {
		name := entry.Name()
		switch {
		case strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~$"): // hidden, or another program's lock
		case isWorkbook(name):
			if err := t.locateSheets(name); err != nil {
				return err
			}
		case strings.EqualFold(path.Ext(name), ".csv") || isParquet(name):
			t.locateTable(strings.ToLower(strings.TrimSuffix(name, path.Ext(name))), place{path: name})
		}
	}
	return nil
}

func isWorkbook(name string) bool { return strings.EqualFold(path.Ext(name), ".xlsx") }

// kits is a table that lies beside the others for earstone labels and letters alone.
const kits = "kits"

// locateTable keeps the place of a table; a second place of one table is an error, since
// either could be meant.
func (t *Tables) locateTable(name string, where place) {
	if !slices.Contains(Names(), name) {
		if name == kits && where.sheet == "" {
			return
		}
		if where.sheet != settingsSheet {
			t.found.Add(finding.UnknownTable, finding.Place{File: where.label()}, name, finding.Nearest(name, Names()))
		}
		return
	}
	first, twice := t.places[name]
	switch {
	case !twice:
		t.places[name] = where
	case first != where:
		t.found.Add(finding.TwiceTable, finding.Place{File: where.label()}, name, first.label())
	}
}

// locatePackage takes the names and paths of resources from datapackage.json (the Data
// Package standard); all else in it is for other programs.
func (t *Tables) locatePackage() error {
	const name = "datapackage.json"
	text, err := t.small(name)
	if err != nil {
		return fmt.Errorf("reading %s: %w", name, err)
	}
	if text == nil {
		return nil
	}
	for _, resource := range readPackage(newPage(name, &t.found, nil), text) {
		t.locateTable(resource.name, place{path: resource.path})
	}
	return nil
}

type resource struct{ name, path string }

// readPackage gives the resources that are tables of ours, each with a path inside the
// folder. Resources of other names are left to whoever wrote them.
func readPackage(p *page, text []byte) []resource {
	var described struct {
		Resources []struct {
			Name string          `json:"name"`
			Path json.RawMessage `json:"path"`
		} `json:"resources"`
	}
	if err := json.Unmarshal(withoutMark(text), &described); err != nil {
		p.refuse("json")
		return nil
	}
	var all []resource
	for i, r := range described.Resources {
		if !slices.Contains(Names(), r.Name) {
			continue
		}
		p.column = "resources[" + strconv.Itoa(i) + "].path"
		var inside string
		if !onePath(r.Path, &inside) {
			p.add(finding.BadSetting, r.Path, "one_path")
			continue
		}
		if !fs.ValidPath(inside) || strings.ContainsAny(inside, `\:`) {
			p.add(finding.BadSetting, []byte(inside), "path_inside")
			continue
		}
		all = append(all, resource{r.Name, inside})
	}
	return all
}

// onePath reads a path, or a list of one path.
func onePath(value json.RawMessage, to *string) bool {
	if json.Unmarshal(value, to) == nil && *to != "" {
		return true
	}
	var several []string
	if json.Unmarshal(value, &several) != nil || len(several) != 1 {
		return false
	}
	*to = several[0]
	return *to != ""
}
