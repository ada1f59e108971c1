package ageerror

import (
	"math"
	"slices"
	"testing"

	"earstone/reference"
)

// dawidSkene is Dawid & Skene (1979), table 1: 45 patients graded 1 to 4 by five
// observers, the first three times. Grades 1 to 4 are ages and counts 0 to 3.
func dawidSkene(t *testing.T) *core {
	t.Helper()
	table := reference.Published(t, "observers-dawid-skene.csv")
	item, observer, reading := table.Numbers("item"), table.Numbers("observer"), table.Numbers("reading")
	k := &core{ages: 4, counts: 4, set: []int{0, 0, 0, 1, 2, 3, 4}, unknown: 45, joint: make([]float64, 4)}
	k.patterns = make([]Pattern, 45)
	for i := range k.patterns {
		k.patterns[i] = Pattern{Counts: []int16{-1, -1, -1, -1, -1, -1, -1}, N: 1, Known: -1}
	}
	for i := range item {
		counts := k.patterns[int(item[i])-1].Counts
		column := slices.Index(k.set, int(observer[i])-1)
		for counts[column] >= 0 {
			column++
		}
		counts[column] = int16(reading[i] - 1)
	}
	for range 5 {
		k.chance = append(k.chance, make([]float64, 16))
	}
	return k
}

// freely sets each matrix to the share of each count among the weights of its ages, with
// no form at all, and β to the mean weights.
func (k *core) freely(weights [][]float64, beta []float64) {
	clear(beta)
	for _, chance := range k.chance {
		clear(chance)
	}
	for i, p := range k.patterns {
		for a, w := range weights[i] {
			beta[a] += w / k.unknown
			for j, c := range p.Counts {
				if c >= 0 {
					k.chance[k.set[j]][int(c)*k.ages+a] += w
				}
			}
		}
	}
	for _, chance := range k.chance {
		for a := range k.ages {
			sum := 0.0
			for c := range k.counts {
				sum += chance[c*k.ages+a]
			}
			for c := range k.counts {
				chance[c*k.ages+a] /= sum
			}
		}
	}
}

func TestLatentTruthOfSeveralObservers(t *testing.T) {
	k := dawidSkene(t)
	weights := make([][]float64, len(k.patterns))
	for i, p := range k.patterns { // vote shares
		weights[i] = make([]float64, 4)
		for _, c := range p.Counts {
			if c >= 0 {
				weights[i][c] += 1 / float64(p.readings())
			}
		}
	}
	beta, next, value := make([]float64, 4), make([]float64, 4), 0.0
	for range 3000 {
		k.freely(weights, beta)
		value = k.expect(next, beta)
		for i := range k.patterns {
			k.multiply(&k.patterns[i])
			l := k.likelihood(&k.patterns[i], beta)
			for a, b := range beta {
				weights[i][a] = b * k.joint[a] / l
			}
		}
	}
	// Dawid & Skene (1979), Applied Statistics 28:20-28, prevalences as printed (from memory).
	for a, want := range []float64{0.40, 0.42, 0.11, 0.07} {
		if math.Abs(beta[a]-want) > 0.005 {
			t.Errorf("prevalence of grade %d = %.4f, printed %.2f", a+1, beta[a], want)
		}
	}
	// Recomputed: EM from vote shares, reference/check-values.md section 4, item 2.
	for a, want := range []float64{0.399554753, 0.421983392, 0.111795189, 0.066666667} {
		if math.Abs(beta[a]-want) > 1e-6 || math.Abs(next[a]-want) > 1e-6 {
			t.Errorf("prevalence of grade %d = %.9f, after one more step %.9f, want %.9f", a+1, beta[a], next[a], want)
		}
	}
	if want := -192.89088; math.Abs(value-want) > 0.5e-5 {
		t.Errorf("log-likelihood = %.6f, want %.5f", value, want)
	}
	rows := [][][]float64{
		{{0.8895, 0.1105, 0, 0}, {0.0706, 0.8764, 0.0530, 0}, {0, 0.3388, 0.6612, 0}, {0, 0, 0.5556, 0.4444}},
		{{0.8342, 0.1658, 0, 0}, {0.0527, 0.6329, 0.3143, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}},
	}
	for r, matrix := range rows {
		for a, row := range matrix {
			for c, want := range row {
				if got := k.chance[r][c*4+a]; math.Abs(got-want) > 0.5e-4 {
					t.Errorf("observer %d: P(%d | %d) = %.5f, want %.4f", r+1, c+1, a+1, got, want)
				}
			}
		}
	}
	for i, w := range weights {
		doubtful := i == 6 || i == 34 || i == 37 // patients 7, 35, 38
		if (slices.Max(w) < 0.99) != doubtful {
			t.Errorf("patient %d: largest class probability %.4f, want below 0.99 for 7, 35 and 38 alone", i+1, slices.Max(w))
		}
	}
}
