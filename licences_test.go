package house_test

import (
	"os"
	"strings"
	"testing"
)

func TestLicencesNameEveryModule(t *testing.T) {
	page, err := os.ReadFile("docs/licences.md")
	if err != nil {
		t.Fatalf("reading the licences: %v", err)
	}
	for _, lib := range readLibraries(t) {
		short := strings.TrimPrefix(lib, "github.com/")
		if !strings.Contains(string(page), short+"`") {
			t.Errorf("Module %s of go.mod is not named in docs/licences.md: read its licence and add it.", lib)
		}
	}
}
