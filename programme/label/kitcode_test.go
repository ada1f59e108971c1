package label

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestKitCodeReadsBackHoweverItIsTyped(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := NewKitCode(func(n int) int { return rapid.IntRange(0, n-1).Draw(r, "letter") })
		text := c.String()
		for _, typed := range []string{text, strings.ToLower(text), strings.ReplaceAll(text, "-", ""), " " + strings.ReplaceAll(text, "-", " ") + " ", strings.ReplaceAll(text, "B", "8")} {
			if got, ok := ParseKitCode(typed); !ok || got != c {
				r.Errorf("%q reads as %q, %t, want %s", typed, got, ok, text)
			}
		}
	})
}

// One wrong letter, or two neighbours swapped, never make a code of another kit.
func TestSlipsInKitCodesAreSeen(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		signs := []byte(NewKitCode(func(n int) int { return rapid.IntRange(0, n-1).Draw(r, "letter") }).signs)
		at := rapid.IntRange(0, len(signs)-1).Draw(r, "at")
		wrong := append([]byte{}, signs...)
		wrong[at] = Letters[rapid.IntRange(0, len(Letters)-1).Draw(r, "wrong")]
		if wrong[at] != signs[at] {
			if c, ok := ParseKitCode(string(wrong)); ok {
				r.Errorf("%s was meant, %s is taken", signs, c)
			}
		}
		if at > 0 && signs[at] != signs[at-1] {
			if c, ok := ParseKitCode(swap(string(signs), at)); ok {
				r.Errorf("%s was meant with two letters swapped, %s is taken", signs, c)
			}
		}
	})
}

func TestWhatIsNoKitCode(t *testing.T) {
	for _, text := range []string{"", "ABC", "QB-00412-T", "ABC-DEF-GHI", "ABC-DEF-HJ1", "ÀBC-DEF-HJK", "ABCDEFHJKM", "ÀÀÀÀA"} {
		if c, ok := ParseKitCode(text); ok || c.Known() || c.String() != "" {
			t.Errorf("%q is taken for the kit code %s", text, c)
		}
	}
}
