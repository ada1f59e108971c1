package paper

import (
	"slices"

	"earstone/programme/record"
)

// PublicArea is the name under which an area may be printed: its public name, or that of
// the nearest area above it that has one, or else the name of the topmost area, which is
// the coarsest. It is empty when the area is not known. Outlines are never printed.
func PublicArea(areas []record.Area, code string) string {
	top := ""
	for range len(areas) + 1 { // a loop of parents ends too
		at := slices.IndexFunc(areas, func(a record.Area) bool { return a.Area == code })
		if code == "" || at < 0 {
			return top
		}
		if areas[at].PublicName != "" {
			return areas[at].PublicName
		}
		if top = areas[at].Name; top == "" {
			top = areas[at].Area
		}
		code = areas[at].Parent
	}
	return top
}

// PublicAreas are the names of all areas as PublicArea gives them, each once, in the
// order of the table.
func PublicAreas(areas []record.Area) (names []string) {
	for _, a := range areas {
		if name := PublicArea(areas, a.Area); name != "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
