package finding

import "strings"

// Nearest is the name that a misspelt one was most likely meant to be, or empty when
// none is near. Case, blanks, hyphens and underscores do not count; two signs in the
// wrong order count once. Of equally near names the first is taken.
func Nearest(name string, among []string) string {
	plain := plainly(name)
	if plain == "" {
		return ""
	}
	best, nearest := max(1, len(plain)/3)+1, ""
	for _, candidate := range among {
		if d := distance(plain, plainly(candidate), best); d < best {
			best, nearest = d, candidate
		}
	}
	return nearest
}

func plainly(name string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '_' || r == '-' || r == '.' {
			return -1
		}
		return r
	}, strings.ToLower(strings.TrimSpace(name)))
}

// distance counts the signs to insert, drop, change or swap between two short names;
// it gives up at the bound.
func distance(a, b string, bound int) int {
	const longest = 64
	if len(a) > longest || len(b) > longest || len(a)-len(b) >= bound || len(b)-len(a) >= bound {
		return bound
	}
	var rows [3][longest + 1]int
	before, above, row := &rows[0], &rows[1], &rows[2]
	for j := range len(b) + 1 {
		above[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(above[j]+1, row[j-1]+1, above[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, above, row = above, row, before
	}
	return above[len(b)]
}
