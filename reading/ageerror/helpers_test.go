package ageerror

import (
	"encoding/json"
	"math"
	"testing"
)

// near says whether x is want within a relative tolerance.
func near(x, want, tol float64) bool {
	return math.Abs(x-want) <= tol*math.Max(math.Abs(want), 1e-12)
}

// remarshal decodes a part of a golden file that was read loosely: its parts have
// different shapes.
func remarshal(t testing.TB, from, into any) {
	t.Helper()
	raw, err := json.Marshal(from)
	if err == nil {
		err = json.Unmarshal(raw, into)
	}
	if err != nil {
		t.Fatalf("reading a part of a golden file: %v", err)
	}
}
