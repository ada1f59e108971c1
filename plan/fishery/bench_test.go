package fishery

import "testing"

func BenchmarkInvent(b *testing.B) {
	for _, size := range []string{"small", "season", "decade"} {
		b.Run(size, func(b *testing.B) {
			settings, err := Sized(size)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				Invent(settings, 1)
			}
		})
	}
}
