package tables

import (
	"bytes"
	"unicode/utf8"
)

// windows1252 are the letters of the bytes 0x80 to 0x9F; 0 where the byte means nothing.
// The other bytes mean the letter of their own number.
var windows1252 = [32]rune{
	'€', 0, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0, 'Ž', 0,
	0, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0, 'ž', 'Ÿ',
}

// fromWindows1252 turns a cell into UTF-8; ok is false when a byte means nothing there.
func fromWindows1252(cell []byte) (text []byte, ok bool) {
	ok = true
	for _, b := range cell {
		letter := rune(b)
		if b >= 0x80 && b < 0xA0 {
			if letter = windows1252[b-0x80]; letter == 0 {
				letter, ok = utf8.RuneError, false
			}
		}
		text = utf8.AppendRune(text, letter)
	}
	return text, ok
}

var (
	utf8Mark    = []byte{0xEF, 0xBB, 0xBF}
	utf16Little = []byte{0xFF, 0xFE}
	utf16Big    = []byte{0xFE, 0xFF}
)

// opening looks at how a file begins, before its first row is cut: the mark of UTF-8 is
// passed over, UTF-16 is refused, and the separator is told from the header.
func (s *scanner) opening(p *page) (readable bool) {
	header, _ := s.line()
	if bytes.HasPrefix(header, utf16Little) || bytes.HasPrefix(header, utf16Big) {
		p.refuse("utf_16")
		return false
	}
	if bytes.HasPrefix(header, utf8Mark) {
		s.start += len(utf8Mark)
		header = header[len(utf8Mark):]
		p.assume("byte_order_mark")
	}
	if semicolons := bytes.Count(header, []byte{';'}); semicolons > bytes.Count(header, []byte{','}) {
		s.separator, p.semicolons = ';', true
		p.assume("semicolons")
	}
	return true
}
