package sqlite

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"earstone/store/history"
)

// BenchmarkCard keeps one card after another, each on the disk before the next: at least
// 200 a second are wanted.
func BenchmarkCard(b *testing.B) {
	s := fresh(b)
	defer s.Close()
	i := 0
	for b.Loop() {
		i++
		keep(b, s, card(fmt.Sprint("QB-", i)))
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cards/s")
}

// BenchmarkLargeBatch keeps 20,000 cards at once.
func BenchmarkLargeBatch(b *testing.B) {
	const n = 20000
	for b.Loop() {
		s := fresh(b)
		keepMany(b, s, n)
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "entries/s")
}

func keepMany(b *testing.B, s *Store, n int) {
	b.Helper()
	var all []*history.Entry
	for i := range n {
		e := card(fmt.Sprintf("QB-%06d-%c", i, 'A'+i%26))
		e.Fields["trip"], e.Fields["contributor"] = fmt.Sprint(100+i/50), fmt.Sprint("c-", i%700)
		e.Fields["remark"] = []string{"", "head torn", "belly torn, haddock in the stomach", "tail cut"}[i%4]
		all = append(all, e)
	}
	keep(b, s, all...)
}

// BenchmarkAmongMany looks for texts from one box among 200,000 fish, and keeps cards
// beside them: at most 50 ms are wanted.
func BenchmarkAmongMany(b *testing.B) {
	ctx := context.Background()
	s := fresh(b)
	defer s.Close()
	keepMany(b, s, 200000)
	for name, text := range map[string]string{
		"label": "QB-123456-G", "part of a label": "12345", "all of them": "qb", "contributor": "c-123", "trip": "2345", "words": "haddo stomach",
		"one letter": "t", "nothing": "nobody",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := s.Find(ctx, text, 20); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("fish of a trip", func(b *testing.B) {
		for b.Loop() {
			if all, err := s.Where(ctx, history.Query{Kind: history.Fish, Field: "trip", Value: "2345"}); err != nil || len(all) != 50 {
				b.Fatal(len(all), err)
			}
		}
	})
	b.Run("card", func(b *testing.B) { // as the page of intake keeps it, and how long the slowest of a hundred takes
		var took []time.Duration
		for b.Loop() {
			label := history.NewID().String()
			all := []*history.Entry{card(label)}
			for _, side := range []string{"L", "R"} {
				stone, step := card(label), card(label)
				stone.Kind, stone.Fields = history.Stones, history.Fields{"fish": label, "side": side}
				step.Kind, step.Fields = history.Custody, history.Fields{"fish": label, "side": side, "step": "received", "on": "2031-06-02"}
				all = append(all, stone, step)
			}
			begun := time.Now()
			keep(b, s, all...)
			took = append(took, time.Since(begun))
		}
		slices.Sort(took)
		b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			if proof, err := s.Verify(ctx, nil); err != nil || len(proof.Damage) > 0 {
				b.Fatal(proof.Damage, err)
			}
		}
	})
	b.Run("each", func(b *testing.B) {
		for b.Loop() {
			n := 0
			if err := s.Each(ctx, history.Fish, func(*history.Record) error { n++; return nil }); err != nil || n != 200000 {
				b.Fatal(n, err)
			}
		}
	})
}
