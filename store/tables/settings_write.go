package tables

import (
	"bytes"
	"encoding/json"
	"fmt"

	"earstone/programme/record"
)

// The shape of programme.json, in the order in which its keys are told. Keys whose zero
// value is their default are left out when they hold it.
type (
	settingsJSON struct {
		Name          string                  `json:"name"`
		Species       []record.Species        `json:"species"`
		AgeConvention string                  `json:"age_convention"`
		Calendars     map[string]calendarJSON `json:"calendars,omitempty"`
		LengthBin     lengthBinJSON           `json:"length_bin"`
		Strata        []string                `json:"strata"`
		Ladders       laddersJSON             `json:"ladders"`
		Key           keyJSON                 `json:"key"`
		PlusGroup     int                     `json:"plus_group,omitempty"`
		AgreedAge     agreedAgeJSON           `json:"agreed_age"`
		Readers       []record.ReaderID       `json:"readers,omitempty"`
		Targets       []targetJSON            `json:"targets,omitempty"`
		Resample      *resampleJSON           `json:"resample,omitempty"`
	}
	calendarJSON struct {
		BirthDay          string  `json:"birth_day"`
		AnnulusDay        string  `json:"annulus_day"`
		AnnulusWindowDays int     `json:"annulus_window_days"`
		FirstAnnulusAge   float64 `json:"first_annulus_age"`
	}
	lengthBinJSON struct {
		Width float64 `json:"width"`
		Unit  string  `json:"unit"`
		Kind  string  `json:"kind"`
	}
	laddersJSON struct {
		Lengths [][]string `json:"lengths"`
		Key     [][]string `json:"key"`
	}
	keyJSON struct {
		Form        string `json:"form"`
		LeastFish   int    `json:"least_fish"`
		AgeingError bool   `json:"ageing_error"`
		EdgeBins    bool   `json:"edge_bins"`
	}
	agreedAgeJSON struct {
		Rule   string          `json:"rule"`
		Expert record.ReaderID `json:"expert,omitempty"`
		Tie    string          `json:"tie"`
	}
	targetJSON struct {
		Quantity string  `json:"quantity"`
		Ages     [2]int  `json:"ages"`
		WantCV   float64 `json:"want_cv,omitempty"`
	}
	resampleJSON struct {
		Fish bool `json:"fish"`
	}
)

// SettingsJSON is the programme.json that reads back as the settings.
func SettingsJSON(s record.Settings) ([]byte, error) {
	shape := settingsJSON{
		Name: s.Name, Species: s.Species, AgeConvention: s.AgeConvention,
		LengthBin: lengthBinJSON{s.LengthBin.Width, s.LengthBin.Unit, s.LengthBin.Kind.String()},
		Strata:    filled(s.Strata),
		Ladders:   laddersJSON{rungs(s.Ladders.Lengths), rungs(s.Ladders.Key)},
		Key:       keyJSON{s.Key.Form, s.Key.LeastFish, s.Key.AgeingError, s.Key.EdgeBins},
		PlusGroup: s.PlusGroup,
		AgreedAge: agreedAgeJSON{s.AgreedAge.Rule, s.AgreedAge.Expert, s.AgreedAge.Tie},
		Readers:   s.Readers,
	}
	if len(s.Calendars) > 0 {
		shape.Calendars = map[string]calendarJSON{}
	}
	for species, c := range s.Calendars {
		shape.Calendars[string(species)] = calendarJSON{c.BirthDay.String(), c.AnnulusDay.String(), c.AnnulusWindowDays, c.FirstAnnulusAge}
	}
	for _, t := range s.Targets {
		shape.Targets = append(shape.Targets, targetJSON{t.Quantity, t.Ages, t.WantCV})
	}
	if s.Resample.Fish {
		shape.Resample = &resampleJSON{true}
	}
	return indented(shape, "programme.json")
}

// filled is a list that is written as [] when it is empty, and never as null.
func filled[T any](all []T) []T { return append([]T{}, all...) }

func rungs(ladder [][]string) [][]string {
	all := [][]string{}
	for _, rung := range ladder {
		all = append(all, filled(rung))
	}
	return all
}

// indented is JSON as a person would lay it out, letters of all tongues as they are.
func indented(shape any, what string) ([]byte, error) {
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(shape); err != nil {
		return nil, fmt.Errorf("writing %s: %w", what, err)
	}
	return text.Bytes(), nil
}
