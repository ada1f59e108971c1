package fishery

import "testing"

func BenchmarkInvent(b *testing.B) {
	for _, size := range []string{"small", "season", "decade"} {
		b.Run(size, func(b *testing.B) {
			settings := sized(b, size)
			b.ReportAllocs()
			for b.Loop() {
				Invent(settings, 1)
			}
		})
	}
}

// BenchmarkSeason is one more season of a fishery that is there.
func BenchmarkSeason(b *testing.B) {
	for _, size := range []string{"small", "season"} {
		b.Run(size, func(b *testing.B) {
			f, i := New(sized(b, size), 1), 0
			b.ReportAllocs()
			for b.Loop() {
				f.Season(i)
				i++
			}
		})
	}
}
