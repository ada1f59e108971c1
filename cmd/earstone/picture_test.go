package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"earstone/pages/chart"
)

const picture = "../../docs/pictures/catch-at-age.svg"

// TestPictureOfTheDemo sees to it that the picture in the README can be read and shows
// every age of the demo. With -update it is drawn anew from the demo as it is now.
func TestPictureOfTheDemo(t *testing.T) {
	bars := demoBars(t)
	if *update {
		drawn := chart.CatchAtAge{Ages: bars, Plus: true, Unit: "thousand fish", Frame: chart.Frame{
			Title: "Catch at age of the demo", Level: 0.95, Size: chart.Size{Width: 760},
			Alt: "A bar an age with its interval, and the known truth of the invented fishery as an open diamond."}}.Draw()
		if err := os.MkdirAll(filepath.Dir(picture), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(picture, []byte(drawn.Alone()+"\n"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	for decoder := xml.NewDecoder(bytes.NewReader(text)); ; {
		if _, err := decoder.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("The picture in the README is no whole SVG: %v", err)
		}
	}
	for i, bar := range bars {
		said := fmt.Sprintf("age %d: ", bar.Age)
		if i == len(bars)-1 {
			said = fmt.Sprintf("age %d+: ", bar.Age)
		}
		if !strings.Contains(string(text), said) || !strings.Contains(string(text), strings.TrimSuffix(said, " ")+" known truth ") {
			t.Errorf("The picture in the README does not show age %d and its truth: draw it anew with -update.", bar.Age)
		}
	}
}

// demoBars are the ages of what `make demo` finds, in thousand fish.
func demoBars(t *testing.T) []chart.CatchBar {
	t.Helper()
	args := []string{"demo", "--size", "season", "--json", "--dir", t.TempDir()}
	if testing.Short() && !*update { // the small demo has the same ages
		args = append(args, "--size", "small", "--replicates", "40", "--key", "agreed_direct")
	}
	said, err := exec.Command("earstone", args...).Output()
	if err != nil {
		t.Fatalf("earstone demo: %v", err)
	}
	var bars []chart.CatchBar
	for decoder := json.NewDecoder(bytes.NewReader(said)); ; {
		var line headlineObject
		if err := decoder.Decode(&line); errors.Is(err, io.EOF) {
			return bars
		} else if err != nil {
			t.Fatalf("reading what the demo says: %v", err)
		}
		if line.Number == nil || line.Truth == nil || *line.Truth == 0 {
			continue
		}
		age, err := strconv.Atoi(strings.TrimSuffix(line.Age, "+"))
		if err != nil {
			t.Fatal(err)
		}
		bars = append(bars, chart.CatchBar{Age: age, Number: *line.Number / 1000, Filled: line.Filled * *line.Number / 1000,
			Interval: chart.Between(*line.Low/1000, *line.High/1000), Truth: chart.Of(*line.Truth / 1000)})
	}
}
