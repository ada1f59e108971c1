package label

import (
	"strings"
	"testing"
)

func mustNew(t testing.TB, prefix string, number int) Code {
	t.Helper()
	c, ok := New(prefix, number)
	if !ok {
		t.Fatalf("%s with number %d is no code", prefix, number)
	}
	return c
}

func TestCheckLetterByHand(t *testing.T) {
	// ISO/IEC 7064 (2003), the recursion of its pure systems (from memory), by hand with
	// modulus 19 and radix 2, values Q 12, B 1, digits themselves:
	// 0 →(Q) 24≡5 →(B) 12 →(0) 24≡5 →(0) 10 →(4) 28≡9 →(1) 20≡1 →(2) 6; 1 − 6 ≡ 14 = T.
	const want = "QB-00412-T"
	if got := mustNew(t, "QB", 412).String(); got != want {
		t.Errorf("the code of QB and 412 is %s, want %s", got, want)
	}
}

func TestRadixIsAPrimitiveRoot(t *testing.T) {
	power, seen := 1, map[int]bool{}
	for range modulus - 1 {
		seen[power] = true
		power = power * radix % modulus
	}
	if len(seen) != modulus-1 {
		t.Errorf("the powers of %d modulo %d are %d numbers, want %d: some slips would not be caught", radix, modulus, len(seen), modulus-1)
	}
}

// slipsCaught makes every wrong sign and every swap of neighbours in a code, and counts
// those that still hold.
func slipsCaught(t *testing.T, text string) (tried int) {
	t.Helper()
	signs := []byte(strings.ReplaceAll(text, "-", ""))
	prefix := strings.IndexByte(text, '-')
	holds := func() bool {
		last := len(signs) - 1
		return checkOf(string(signs[:last])) == signs[last]
	}
	if !holds() {
		t.Fatalf("%s does not hold", text)
	}
	for i, right := range signs {
		kind := "0123456789"
		if i < prefix || i == len(signs)-1 {
			kind = Letters
		}
		for j := range len(kind) {
			if signs[i] = kind[j]; signs[i] == right {
				continue
			}
			if tried++; holds() {
				t.Fatalf("%s with its sign %d read as %c still holds", text, i+1, kind[j])
			}
		}
		signs[i] = right
		// A letter and a digit that are swapped break the form of the code.
		if i > 0 && i != prefix && i < len(signs)-1 && signs[i-1] != right {
			signs[i-1], signs[i] = signs[i], signs[i-1]
			if tried++; holds() {
				t.Fatalf("%s with signs %d and %d swapped still holds", text, i, i+1)
			}
			signs[i-1], signs[i] = signs[i], signs[i-1]
		}
	}
	return tried
}

func TestEverySlipIsCaught(t *testing.T) {
	tried := 0
	for number := 1; number <= 99_999; number++ {
		tried += slipsCaught(t, mustNew(t, "QB", number).String())
	}
	for _, a := range Letters { // each prefix of two letters, and some of four, with longer numbers
		for _, b := range Letters {
			tried += slipsCaught(t, mustNew(t, string(a)+string(b), 9_007_341).String())
			tried += slipsCaught(t, mustNew(t, string(a)+"XY"+string(b), 604_122).String())
		}
	}
	// By hand for one QB code: 2 letters × 18 + 5 digits × 9 + 1 check letter × 18 = 99
	// wrong signs, and at most 5 swaps.
	if least := 99_999 * 99; tried < least {
		t.Errorf("only %d slips were tried, want %d and more", tried, least)
	}
}

func TestNoSlipOfPrintReadsAsAnotherCode(t *testing.T) {
	all := Letters + "GILOSUZ0123456789"
	for i := range 2_500 {
		c := mustNew(t, [...]string{"QB", "QD", "BQ", "XBD"}[i%4], 1+i*39)
		text := []byte(c.String())
		for i, right := range text {
			for j := range len(all) {
				if right == '-' {
					break
				}
				text[i] = all[j]
				if r := Parse(string(text)); r.Code.Known() && r.Code != c {
					t.Fatalf("%s is read as %s, which is another code than %s", text, r.Code, c)
				}
			}
			text[i] = right
		}
		for i := 1; i < len(text); i++ {
			before := i - 1
			if text[before] == '-' {
				before-- // over the hyphen
			}
			if text[i] == '-' {
				continue
			}
			text[before], text[i] = text[i], text[before]
			if r := Parse(string(text)); r.Code.Known() && r.Code != c {
				t.Fatalf("%s is read as %s, which is another code than %s", text, r.Code, c)
			}
			text[before], text[i] = text[i], text[before]
		}
	}
}

func TestParseAsPeopleType(t *testing.T) {
	for _, c := range []struct {
		text   string
		remark Remark
		want   string
		sign   string
	}{
		{"QB-00412-T", AsWritten, "QB-00412-T", ""},
		{" QB-00412-T\n", AsWritten, "QB-00412-T", ""},
		{"qb 00412 t", Tidied, "QB-00412-T", ""},
		{"QB00412T", Tidied, "QB-00412-T", ""},
		{"qb–412–t", Tidied, "QB-00412-T", ""},
		{"ＱＢ－００４１２－Ｔ", Tidied, "QB-00412-T", ""},
		{"QB-٠٠٤١٢-T", Tidied, "QB-00412-T", ""},
		{"QB-OO412-T", LookAlike, "QB-00412-T", "O"},
		{"QB-004l2-T", LookAlike, "QB-00412-T", "L"},
		{"Q8-00412-T", LookAlike, "QB-00412-T", "8"},
		{"qbOO412t", LookAlike, "QB-00412-T", "O"},
		{"", Empty, "", ""},
		{" - ", Empty, "", ""},
		{"QB-00412", NoCheck, "", ""},
		{"QB00412", NoCheck, "", ""},
		{"QB-00421-T", WrongCheck, "", ""},
		{"QB-0041?-T", NoSign, "", "?"},
		{"QB-00412-S", NoSign, "", "S"},
		{"QB-00000-A", NoNumber, "", ""},
		{"QB-99999999-A", NoNumber, "", ""},
		{"Q-00412-T", NotACode, "", ""},
		{"QBXYA-00412-T", NotACode, "", ""},
		{"hello", NotACode, "", ""},
		{"T", NotACode, "", ""},
		{"魚-00412-T", NoSign, "", "魚"},
	} {
		r := Parse(c.text)
		if r.Remark != c.remark || r.Code.String() != c.want || r.Sign != c.sign {
			t.Errorf("%q is read as %q, %v, sign %q; want %q, %v, %q", c.text, r.Code, r.Remark, r.Sign, c.want, c.remark, c.sign)
		}
		if r.Remark.Refuses() == r.Code.Known() {
			t.Errorf("%q: remark %v with the code %q", c.text, r.Remark, r.Code)
		}
	}
	if r := Parse("QB-00421-T"); len(r.Near) != 1 || r.Near[0].String() != "QB-00412-T" {
		t.Errorf("the codes near QB-00421-T are %v, want QB-00412-T alone", r.Near)
	}
}

func FuzzParse(f *testing.F) {
	for _, text := range []string{"QB-00412-T", "qb oo412 t", "Q8-412-T", "", "--", "ＱＢ－１－Ａ", "QB-9999999-A"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r := Parse(text)
		if r.Remark.Refuses() {
			if r.Code.Known() {
				t.Fatalf("%q is refused as %v and read as %s", text, r.Remark, r.Code)
			}
			return
		}
		again := Parse(r.Code.String())
		if again.Code != r.Code || again.Remark != AsWritten {
			t.Fatalf("%q is read as %s, and that as %s, %v", text, r.Code, again.Code, again.Remark)
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for _, c := range []struct {
		prefix string
		number int
	}{{"Q", 1}, {"QBXYA", 1}, {"QO", 1}, {"qb", 1}, {"Q1", 1}, {"QB", 0}, {"QB", -4}, {"QB", LargestNumber + 1}, {"", 1}} {
		if code, ok := New(c.prefix, c.number); ok || code.Known() {
			t.Errorf("%q with number %d gives %s, want none", c.prefix, c.number, code)
		}
	}
	if got := mustNew(t, "QBXY", LargestNumber).String(); !strings.HasPrefix(got, "QBXY-9999999-") {
		t.Errorf("the longest code is %s", got)
	}
}

func TestRemarksHaveNames(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Remarks() {
		if r.String() == "" || seen[r.String()] {
			t.Errorf("remark %d is called %q", r, r)
		}
		seen[r.String()] = true
	}
}
