package form

import (
	"testing"

	"earstone/programme/record"
)

func TestDecimalCommasAreReadAndKept(t *testing.T) {
	for typed, want := range map[string]string{"214,5": "214.5", "214.5": "214.5", " 214 ": "214", "0,25": "0.25"} {
		_, got := Read[record.Fish](Cells{"fish": "QB-00001-T", "species": "BFT", "length": typed, "length_unit": "cm", "length_kind": "total"})
		if got.Fields["length"] != want || got.Grave() {
			t.Errorf("a length typed as %q is read as %q, want %q (found %v)", typed, got.Fields["length"], want, got.Found)
		}
		if raw := got.Raw["length"]; typed != want && raw != typed {
			t.Errorf("of a length typed as %q is kept as written %q", typed, raw)
		}
	}
	for _, typed := range []string{"1,250", "2l4", "1,2,3", "-3", "1e999", "NaN"} {
		if _, got := Read[record.Fish](Cells{"fish": "QB-00001-T", "species": "BFT", "length": typed, "length_unit": "cm", "length_kind": "total"}); !got.Grave() {
			t.Errorf("a length typed as %q is read as %q", typed, got.Fields["length"])
		}
	}
}

func TestSealIsOfWhatWasSeen(t *testing.T) {
	_, one := Read[record.Fish](Cells{"fish": "A", "species": "BFT", "length": "214"})
	_, same := Read[record.Fish](Cells{"fish": "A", "species": "BFT", "length": "214"})
	_, other := Read[record.Fish](Cells{"fish": "A", "species": "BFT", "length": "215"})
	if one.Seal() != same.Seal() || one.Seal() == other.Seal() {
		t.Errorf("the seals of 214, 214 and 215 are %s, %s and %s", one.Seal(), same.Seal(), other.Seal())
	}
}
