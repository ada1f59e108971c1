package accounts

import "strings"

// Roles is a set of roles. The zero value is none.
type Roles uint8

// The roles. What each may do stands in the route table of pages/web.
const (
	Coordinator   Roles = 1 << iota // kits, people who send, quotas, letters
	Bench                           // intake, cleaning, weighing, sections, pictures
	Reader                          // counts annuli, blind
	Analyst                         // estimates
	Administrator                   // accounts
)

// Everybody is all roles: the one person at their own laptop.
const Everybody = Coordinator | Bench | Reader | Analyst | Administrator

// Each are the roles one by one.
func Each() []Roles { return []Roles{Coordinator, Bench, Reader, Analyst, Administrator} }

var roleWords = map[Roles]string{
	Coordinator: "coordinator", Bench: "bench", Reader: "reader", Analyst: "analyst", Administrator: "administrator",
}

// Has tells whether the set shares a role with another.
func (r Roles) Has(any Roles) bool { return r&any != 0 }

// String names the roles of the set in the order above.
func (r Roles) String() string {
	var names []string
	for _, one := range Each() {
		if r.Has(one) {
			names = append(names, roleWords[one])
		}
	}
	return strings.Join(names, ", ")
}

// ParseRole reads the word of one role.
func ParseRole(word string) (Roles, bool) {
	for _, one := range Each() {
		if roleWords[one] == word {
			return one, true
		}
	}
	return 0, false
}
