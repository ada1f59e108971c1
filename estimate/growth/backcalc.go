package growth

import (
	"fmt"
	"math"
)

// Rule is how a length at an annulus is read from the radii of a stone. The zero
// Rule is unknown.
type Rule int

// The rules, L_c and S_c being length and radius at capture, S_i the radius of an
// annulus; each gives L_c at S_c.
const (
	DahlLea             Rule = iota + 1 // L_c S_i/S_c: length in proportion to radius
	FraserLee                           // c + (L_c − c) S_i/S_c, c the intercept of length on radius
	BiologicalIntercept                 // L_c + (S_i − S_c)(L_c − L_0)/(S_c − S_0), from a length and radius known at hatching
	ScaleProportional                   // −a/b + (L_c + a/b) S_i/S_c, S = a + b L: a stone off the line by a share stays so
	BodyProportional                    // L_c (c + d S_i)/(c + d S_c), L = c + d S: a fish off the line by a share stays so
)

var rules = [...]string{
	DahlLea: "dahl_lea", FraserLee: "fraser_lee", BiologicalIntercept: "biological_intercept",
	ScaleProportional: "scale_proportional", BodyProportional: "body_proportional",
}

// Rules are all rules in their order.
func Rules() []Rule {
	return []Rule{DahlLea, FraserLee, BiologicalIntercept, ScaleProportional, BodyProportional}
}

// String is the rule's word, fraser_lee say.
func (r Rule) String() string {
	if r < 1 || int(r) >= len(rules) {
		return fmt.Sprintf("Rule(%d)", int(r))
	}
	return rules[r]
}

// ParseRule is the rule of a word that String wrote.
func ParseRule(word string) (Rule, error) {
	for _, r := range Rules() {
		if rules[r] == word {
			return r, nil
		}
	}
	return 0, fmt.Errorf("growth: no rule of back-calculation is called %q", word)
}

// Relation is what the rules need beside a fish's own radii.
type Relation struct {
	// Intercept and Slope are those of length on radius over fish at capture.
	Intercept, Slope float64
	// RadiusIntercept and RadiusSlope are those of radius on length.
	RadiusIntercept, RadiusSlope float64
	// OriginLength and OriginRadius are the size of fish and stone at hatching, of
	// BiologicalIntercept only; they come from outside.
	OriginLength, OriginRadius float64
}

// Relate is the least-squares line of length on radius, and that of radius on
// length, over fish at capture: one entry a fish, unweighted. The origin is left
// at 0. Trouble is TooFewFish where fewer than two fish differ in radius and in
// length. Panics when lengths differ.
func Relate(length, radius []float64) (Relation, error) {
	if len(length) != len(radius) {
		panic(fmt.Sprintf("growth: %d lengths with %d radii", len(length), len(radius)))
	}
	n := float64(len(length))
	var ml, mr, ll, rr, lr float64
	for i := range length {
		ml, mr = ml+length[i]/n, mr+radius[i]/n
	}
	for i := range length {
		l, r := length[i]-ml, radius[i]-mr
		ll, rr, lr = ll+l*l, rr+r*r, lr+l*r
	}
	if !(ll > 0) || !(rr > 0) || lr == 0 {
		return Relation{}, &Trouble{Reason: TooFewFish, Fish: n}
	}
	return Relation{Intercept: ml - lr/rr*mr, Slope: lr / rr, RadiusIntercept: mr - lr/ll*ml, RadiusSlope: lr / ll}, nil
}

// BackCalculate fills dst with the lengths at the annuli of a fish of a length and
// a radius at capture, annuli being radii in the unit of radius. Rules part most
// at the first annuli, the smallest fish; Dahl–Lea takes a stone of no size for a
// fish of no length, which makes young fish too long where the stone is there
// before the fish grows.
//
// Panics when dst and annuli differ in length, on the unknown rule, and unless
// length and radius are above 0.
//
// Lea (1910); Lee (1920); Campana (1990), Can. J. Fish. Aquat. Sci. 47, for the
// biological intercept; Francis (1990), J. Fish Biol. 36, for the proportional
// ones (citations from memory). Methods, section 7.
func BackCalculate(dst []float64, rule Rule, length, radius float64, annuli []float64, r Relation) {
	if len(dst) != len(annuli) || !(length > 0) || !(radius > 0) {
		panic(fmt.Sprintf("growth: %d lengths at %d annuli of a fish of %v with radius %v", len(dst), len(annuli), length, radius))
	}
	for i, at := range annuli {
		share := at / radius
		switch rule {
		case DahlLea:
			dst[i] = length * share
		case FraserLee:
			dst[i] = r.Intercept + (length-r.Intercept)*share
		case BiologicalIntercept:
			dst[i] = length + (at-radius)*(length-r.OriginLength)/(radius-r.OriginRadius)
		case ScaleProportional:
			zero := r.RadiusIntercept / r.RadiusSlope
			dst[i] = (length+zero)*share - zero
		case BodyProportional:
			dst[i] = length * (r.Intercept + r.Slope*at) / (r.Intercept + r.Slope*radius)
		default:
			panic(fmt.Sprintf("growth: no back-calculation by %v", rule))
		}
	}
}

// AnnulusMean is the mean length at an annulus.
type AnnulusMean struct {
	Annulus int
	Fish    int     // with that annulus
	Plain   float64 // mean over the fish that have it
	Mean    float64 // of all fish, those too young to have it included
	SE      float64 // of Mean
}

// Means are mean lengths at annuli with the spread between and within fish.
type Means struct {
	Annuli     []AnnulusMean // by annulus, from the first
	BetweenSD  float64       // τ, of a fish about the mean at all its annuli
	WithinSD   float64       // s, of a length about its fish
	Likelihood float64       // log-likelihood
}

// MeansAtAnnuli are the mean lengths at annuli when a fish that was long at one
// annulus was long at the others too,
//
//	l_ij = m_j + b_i + e_ij,  b_i ~ N(0, τ²),  e_ij ~ N(0, s²),
//
// by maximum likelihood: m by generalised least squares at the ratio τ²/s² of
// highest likelihood. Lengths are of one fish each, fish[row] its number from 0,
// annulus[row] from 1. Old fish have all annuli and young ones only the first, so
// that plain means jump where long-lived fish grew otherwise; these do not, so far
// as fish keep their place. SE of m takes τ and s for known.
//
// Trouble is TooFewFish unless there are more lengths than annuli and two fish.
// Panics when lengths differ, on a negative fish, and an annulus below 1 or one
// that no fish has below the largest.
//
// Laird & Ware (1982), Biometrics 38 (citation from memory). Methods, section 7.
func MeansAtAnnuli(fish, annulus []int, length []float64) (Means, error) {
	m, err := newMixed(fish, annulus, length)
	if err != nil {
		return Means{}, err
	}
	ratio, err := m.ratio()
	if err != nil {
		return Means{}, err
	}
	value, s2 := m.fit(ratio)
	out := Means{BetweenSD: math.Sqrt(ratio * s2), WithinSD: math.Sqrt(s2), Likelihood: -value}
	for j := range m.count {
		out.Annuli = append(out.Annuli, AnnulusMean{j + 1, m.count[j], m.plain[j], m.mean[j], math.Sqrt(s2 * m.inverse(j))})
	}
	return out, nil
}
