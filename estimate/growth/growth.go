// Package growth fits curves of length at decimal age to fish sampled by design.
package growth

import "fmt"

// Model is the equation of a curve. The zero Model is unknown; a fit takes it for
// VonBertalanffy.
type Model int

// The models; their equations stand at Curve.Length.
const (
	VonBertalanffy Model = iota + 1
	Gompertz
	Logistic
	Richards
	Schnute
	TwoPhase
)

var models = [...]struct {
	word       string
	parameters []string
}{
	VonBertalanffy: {"von_bertalanffy", []string{"Linf", "K", "t0"}},
	Gompertz:       {"gompertz", []string{"Linf", "K", "ti"}},
	Logistic:       {"logistic", []string{"Linf", "K", "ti"}},
	Richards:       {"richards", []string{"Linf", "K", "ti", "m"}},
	Schnute:        {"schnute", []string{"L1", "L2", "a", "b"}},
	TwoPhase:       {"two_phase", []string{"Linf", "k1", "k2", "t0", "alpha", "beta"}},
}

// Models are all models in their order.
func Models() []Model {
	return []Model{VonBertalanffy, Gompertz, Logistic, Richards, Schnute, TwoPhase}
}

// String is the word of growth.csv, two_phase say.
func (m Model) String() string {
	if m < 1 || int(m) >= len(models) {
		return fmt.Sprintf("Model(%d)", int(m))
	}
	return models[m].word
}

// ParseModel is the model of a word that String wrote.
func ParseModel(word string) (Model, error) {
	for _, m := range Models() {
		if models[m].word == word {
			return m, nil
		}
	}
	return 0, fmt.Errorf("growth: no model is called %q", word)
}

// Parameters are the names of the model's parameters in the order in which every
// slice holds them. The caller must not change them. Panics on the unknown model.
func (m Model) Parameters() []string {
	if m < 1 || int(m) >= len(models) {
		panic(fmt.Sprintf("growth: %v has no parameters", m))
	}
	return models[m].parameters
}

// Scatter is how lengths lie about the curve. The zero Scatter is unknown; a fit
// takes it for ConstantSD.
type Scatter int

// The forms of scatter, μ being the curve and s the scale that is estimated.
const (
	ConstantSD Scatter = iota + 1 // normal, SD s
	ConstantCV                    // normal, SD s μ
	Lognormal                     // log length normal about log μ, SD s: the curve is the median
	Student                       // μ + s t, t of Student on 4 degrees of freedom: for outliers
)

var scatters = [...]string{ConstantSD: "sd", ConstantCV: "cv", Lognormal: "lognormal", Student: "student"}

// Scatters are all forms of scatter in their order.
func Scatters() []Scatter { return []Scatter{ConstantSD, ConstantCV, Lognormal, Student} }

// String is the word of growth.csv, lognormal say.
func (s Scatter) String() string {
	if s < 1 || int(s) >= len(scatters) {
		return fmt.Sprintf("Scatter(%d)", int(s))
	}
	return scatters[s]
}

// ParseScatter is the form of scatter of a word that String wrote.
func ParseScatter(word string) (Scatter, error) {
	for _, s := range Scatters() {
		if scatters[s] == word {
			return s, nil
		}
	}
	return 0, fmt.Errorf("growth: no form of scatter is called %q", word)
}
