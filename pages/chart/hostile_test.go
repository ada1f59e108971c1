package chart

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// change visits every number and text within a picture's struct; slices are
// copied first, so that the sample stays as it was.
func change(v reflect.Value, to func(v reflect.Value, field string), field string) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			change(v.Field(i), to, v.Type().Field(i).Name)
		}
	case reflect.Slice:
		fresh := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(fresh, v)
		v.Set(fresh)
		for i := range v.Len() {
			change(v.Index(i), to, field)
		}
	default:
		to(v, field)
	}
}

// changed answers a copy of p in which every number and text went through to.
func changed(p picture, to func(v reflect.Value, field string)) picture {
	v := reflect.New(reflect.TypeOf(p)).Elem()
	v.Set(reflect.ValueOf(p))
	change(v, to, "")
	return v.Interface().(picture)
}

func TestHostileText(t *testing.T) {
	const hostile = "</title><script>alert(\"x\")</script>&'\x00\xff]]>"
	for _, s := range samples() {
		got := changed(s.picture, func(v reflect.Value, _ string) {
			if v.Kind() == reflect.String {
				v.SetString(hostile)
			}
		}).Draw()
		if strings.Contains(string(got), "<script") {
			t.Errorf("%s lets a caller's <script> through", s.name)
		}
		checkPicture(t, got)
	}
}

func TestTitleAndAlt(t *testing.T) {
	for _, s := range samples() {
		got := changed(s.picture, func(v reflect.Value, field string) {
			if field == "Title" || field == "Alt" {
				v.SetString(field + " & <more>")
			}
		}).Draw()
		root := parse(t, got)
		if root.children[0].text != "Title & <more>" || root.children[1].text != "Alt & <more>" {
			t.Errorf("%s says title %q and desc %q", s.name, root.children[0].text, root.children[1].text)
		}
	}
}

// TestHostileNumbers draws every picture with numbers that can't be drawn.
func TestHostileNumbers(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e-300, 1e300, -1e300, 1e15, -1e15, 0.5, 7, 1234.5, math.MaxFloat64}
	for _, s := range samples() {
		t.Run(s.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				often := rapid.IntRange(1, 20).Draw(t, "one in")
				got := changed(s.picture, func(v reflect.Value, field string) {
					if rapid.IntRange(1, often).Draw(t, "whether") != 1 {
						return
					}
					switch {
					case v.Kind() == reflect.Float64:
						v.SetFloat(rapid.SampledFrom(odd).Draw(t, field))
					case v.Kind() == reflect.Bool:
						v.SetBool(rapid.Bool().Draw(t, field))
					case v.Kind() == reflect.Int && field != "Month":
						v.SetInt(rapid.SampledFrom([]int64{-1 << 40, -3, 0, 1, 2, 40, 1 << 40}).Draw(t, field))
					}
				}).Draw()
				checkHostile(t, got)
			})
		})
	}
}

// checkHostile asks what must hold whatever the numbers: where words fall on a
// sheet of nonsense is not asked.
func checkHostile(t fataler, s SVG) {
	for _, word := range []string{"NaN", "Inf"} {
		if strings.Contains(string(s), word) {
			t.Errorf("the picture says %s", word)
		}
	}
	parse(t, s).walk(func(e *element) {
		if b, ok := e.extent(t); ok && e.name == "line" && b.x0 == b.x1 && b.y0 == b.y1 {
			t.Errorf("<line class=%q> has no length", e.attr["class"])
		}
		if area, ok := e.attr["data-area"]; ok {
			checkInside(t, e, area)
		}
	})
}

func TestNothingToDraw(t *testing.T) {
	for _, p := range []picture{CatchAtAge{}, KeySurface{}, Lengths{}, AgeBias{}, Differences{}, Marks{}, Edges{}, Cohorts{}, ErrorCurve{}, Scores{}, TwoErrors{}, Basis{},
		Growth{}, GroupCurves{}, Residuals{}, Profile{}, Draws{}, Tracks{}, Tracers{}, Posteriors{}, Compositions{}, CatchParts{}, Series{}, Ranges{}, Ranges{Zero: true}, CatchCurve{}, AreaMap{}, Budget{}, Budget{Bars: make([]BudgetBar, 2)}, ByAge{}, ByAge{Panels: make([]AgePanel, 2)}, PerRecruit{}, Promised{}, Ahead{}, Ahead{Panels: make([]AheadPanel, 2)},
		Compositions{Groups: make([]CompositionGroup, 2)}, CatchParts{Parts: make([]CatchPart, 2)}, Series{Panels: make([]SeriesPanel, 2)}, Tracers{Nurseries: make([]NurseryArea, 2)}, Posteriors{Nurseries: make([]string, 2)},
		KeySurface{Panels: make([]KeyPanel, 2)}, Lengths{Panels: make([]LengthPanel, 2)}, ErrorCurve{Readers: make([]ReaderError, 2)}} {
		t.Run(reflect.TypeOf(p).Name(), func(t *testing.T) { checkPicture(t, p.Draw()) })
	}
}
