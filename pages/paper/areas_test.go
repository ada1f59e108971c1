package paper

import (
	"slices"
	"testing"

	"earstone/programme/record"
)

func TestAreasArePrintedCoarse(t *testing.T) {
	areas := []record.Area{
		{Area: "Q", Name: "Quarrow", PublicName: "Quarrow Bank"},
		{Area: "Q7", Name: "Hole behind the wreck", Parent: "Q"},
		{Area: "S", Name: "Skell"},
		{Area: "S1", Name: "Skell, north drop", Parent: "S"},
		{Area: "X", Parent: "Y"}, {Area: "Y", Parent: "X"},
	}
	for code, want := range map[string]string{"Q": "Quarrow Bank", "Q7": "Quarrow Bank", "S": "Skell", "S1": "Skell", "": "", "nowhere": ""} {
		if got := PublicArea(areas, code); got != want {
			t.Errorf("area %q is printed as %q, want %q", code, got, want)
		}
	}
	if got, want := PublicAreas(areas[:4]), []string{"Quarrow Bank", "Skell"}; !slices.Equal(got, want) {
		t.Errorf("the areas are printed as %q, want %q", got, want)
	}
	if got := PublicArea(areas, "X"); got != "X" && got != "Y" {
		t.Errorf("an area that is its own parent's parent is printed as %q", got)
	}
}
