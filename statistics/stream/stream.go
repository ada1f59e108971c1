package stream

import (
	"fmt"
	"math"
	"math/bits"
)

// Stream is one keyed sequence of random numbers, xoshiro256++ of Blackman &
// Vigna (2021). Declare one and Reset it before the first draw: a Stream that
// was never keyed draws zeros. Not for use by several goroutines at a time; a
// copy goes its own way from where it was taken.
type Stream struct {
	a, b, c, d uint64
}

// Reset keys the stream: the same three always begin the same sequence, and no
// two keys share a state. Panics when replicate is negative.
func (s *Stream) Reset(seed uint64, source Source, replicate int) {
	s.ResetAt(seed, source, replicate, 0)
}

// ResetAt keys a part of a replicate, a stratum say, so that parts may be drawn
// in any order. Part 0 is the replicate's own stream, that of Reset. Panics when
// replicate is negative or part is outside 0 to 2³² − 1.
//
// Philox4x32-10 turns the key (seed) and the counter (source, part, replicate)
// into 128 bits; two splitmix64 sequences take each half to two words of state.
// Each step is one to one, so different keys cannot meet in a state, and no
// state is all zeros.
func (s *Stream) ResetAt(seed uint64, source Source, replicate, part int) {
	if replicate < 0 || part < 0 || uint64(part) > math.MaxUint32 {
		panic(fmt.Sprintf("stream: no replicate %d, part %d", replicate, part))
	}
	counter := [4]uint32{uint32(source), uint32(part), uint32(replicate), uint32(uint64(replicate) >> 32)}
	w := philox(counter, [2]uint32{uint32(seed), uint32(seed >> 32)})
	first := uint64(w[0])<<32 | uint64(w[1])
	second := uint64(w[2])<<32 | uint64(w[3])
	first, s.a = splitmix(first)
	_, s.b = splitmix(first)
	second, s.c = splitmix(second)
	_, s.d = splitmix(second)
}

// philox is Philox4x32-10: Salmon, Moraes, Dror & Shaw (2011).
func philox(c [4]uint32, k [2]uint32) [4]uint32 {
	for range 10 {
		p, q := uint64(c[0])*0xd2511f53, uint64(c[2])*0xcd9e8d57
		c = [4]uint32{uint32(q>>32) ^ c[1] ^ k[0], uint32(q), uint32(p>>32) ^ c[3] ^ k[1], uint32(p)}
		k[0] += 0x9e3779b9
		k[1] += 0xbb67ae85
	}
	return c
}

// splitmix is one step of splitmix64, the next state and the word:
// Steele, Lea & Flood (2014).
func splitmix(state uint64) (next, word uint64) {
	next = state + 0x9e3779b97f4a7c15
	z := next
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return next, z ^ z>>31
}

// Uint64 is the next word, each of 2⁶⁴ as likely.
func (s *Stream) Uint64() uint64 {
	word := bits.RotateLeft64(s.a+s.d, 23) + s.a
	t := s.b << 17
	s.c ^= s.a
	s.d ^= s.b
	s.b ^= s.c
	s.a ^= s.d
	s.c ^= t
	s.d = bits.RotateLeft64(s.d, 45)
	return word
}

// Float64 is uniform over the open (0, 1): the middles of 2⁵² equal parts, so that
// neither its logarithm nor that of 1 − u is infinite.
func (s *Stream) Float64() float64 {
	return float64(s.Uint64()>>12)*0x1p-52 + 0x1p-53
}

// IntN is uniform over 0 to n − 1, exactly. Panics when n < 1.
//
// Lemire (2019).
func (s *Stream) IntN(n int) int {
	if n < 1 {
		panic(fmt.Sprintf("stream: no whole number below %d", n))
	}
	bound := uint64(n)
	high, low := bits.Mul64(s.Uint64(), bound)
	if low < bound {
		for least := -bound % bound; low < least; {
			high, low = bits.Mul64(s.Uint64(), bound)
		}
	}
	return int(high)
}

// Shuffle puts n things in a random order by swapping, each order as likely
// (Fisher & Yates). Panics when n < 0.
func (s *Stream) Shuffle(n int, swap func(i, j int)) {
	if n < 0 {
		panic(fmt.Sprintf("stream: shuffling %d things", n))
	}
	for i := n - 1; i > 0; i-- {
		swap(i, s.IntN(i+1))
	}
}
