package interval

import (
	"math"

	"earstone/statistics/dist"
)

// Sampled is an estimated share and what its spread rests on.
type Sampled struct {
	Share float64 // 0 to 1
	SE    float64 // of the share; 0 when it was never or always seen
	DF    float64 // degrees of freedom of SE (Freedom); 0 or less: as many as units
	Units float64 // things counted, fish say
	// Effective is the effective number of units that stands in where the share was never
	// or always seen, its SE 0, or hardly ever or hardly ever not, its SE above five times
	// the share or the rest: that of the sample as a whole. 0 or less: Units.
	Effective float64
}

// Share is the interval of a share from a clustered sample, exact for the number of
// independent units that the sample is worth:
//
//	n* = p(1−p)/SE² · (t_{n−1}(α/2) / t_df(α/2))²,  at most n
//	low = B(α/2; n*p, n*(1−p) + 1),  high = B(1−α/2; n*p + 1, n*(1−p))
//
// B is the quantile of the beta distribution. A simple random sample gives the interval
// of Clopper & Pearson. It needs no symmetry, holds for shares near 0 and for few
// clusters, and gives a share that was never seen an upper end above 0. Panics unless
// 0 ≤ p ≤ 1, Units > 0 and 0 < level < 1.
//
// Korn & Graubard (1998), Survey Methodology 24:193-201 (citation from memory).
func Share(s Sampled, level float64) Interval {
	if !(s.Share >= 0 && s.Share <= 1 && s.Units > 0) {
		panic("interval: a share outside 0 to 1, or of nothing")
	}
	check(1, level)
	n := s.Effective
	if spread := s.Share * (1 - s.Share); s.SE > 0 && spread > 0 && (s.SE <= 5*math.Min(s.Share, 1-s.Share) || n <= 0) {
		n = spread / (s.SE * s.SE)
	}
	if n <= 0 {
		n = s.Units
	}
	if s.DF > 0 && s.Units > 1 {
		ratio := dist.TQuantile((1+level)/2, s.Units-1) / dist.TQuantile((1+level)/2, math.Max(s.DF, 1))
		n *= ratio * ratio
	}
	n = math.Min(n, s.Units)
	low, high := dist.ExactShare(math.Min(s.Share*n, n), n, level)
	return Interval{low, high}
}

// Freedom is the degrees of freedom of a variance V that in part adds up over groups of
// clusters:
//
//	df = V² / Σ_h V_h²/(m_h − 1),  V_h = m_h/(m_h − 1) Σ_t L_ht²
//
// L_ht is how far cluster t of group h moves the estimate, the mean over its group taken
// off. A group of one tells nothing. What V, variance, has beyond Σ_h V_h comes from
// elsewhere and is taken to be well known; a variance below Σ_h V_h, 0 for one, stands for
// that sum. 0 when nothing moves.
//
// Satterthwaite (1946), Biometrics Bulletin 2:110-114 (citation from memory).
func Freedom(groups [][]float64, variance float64) float64 {
	total, squares := 0.0, 0.0
	for _, moves := range groups {
		m := float64(len(moves))
		if m < 2 {
			continue
		}
		v := 0.0
		for _, l := range moves {
			v += l * l * m / (m - 1)
		}
		total += v
		squares += v * v / (m - 1)
	}
	if squares == 0 {
		return 0
	}
	total = max(total, variance)
	return total * total / squares
}

// Widened is the level at which a normal interval is as wide as Student's t with df
// degrees of freedom is at a level: 2Φ(t) − 1. It widens percentile and BCa intervals
// that rest on few clusters. df of 0 or less changes nothing; from there to 2 it counts
// as 2, below which replicates could not be read so far out.
//
// Hesterberg (2015), The American Statistician 69:371-386, section 5.3 (from memory).
func Widened(level, df float64) float64 {
	if df <= 0 {
		return level
	}
	return 2*dist.NormalCDF(dist.TQuantile((1+level)/2, math.Max(df, 2))) - 1
}
