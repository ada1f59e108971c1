package web

import (
	"sync"
	"time"

	"golang.org/x/time/rate"

	"earstone/pages/web/phone"
)

// pace is how often one may try: some times at once, then one try every so long.
type pace struct {
	atOnce int
	every  time.Duration
}

// The bounds of signing in. A person who mistypes meets the first one only; that of a name
// holds against many addresses, that of an address against many names.
var (
	paceOfBoth    = pace{6, 20 * time.Second}
	paceOfName    = pace{30, 10 * time.Second}
	paceOfAddress = pace{30, 10 * time.Second}
)

// The bounds of phones. A kit that was full sends its cards and two photographs of each at
// once; a harbour may send through one address. A code that is typed wrong meets none of
// them, and guessing takes longer than there is.
var pacesOfPhones = map[phone.Pace]pace{
	phone.OfKit:     {300, time.Second},
	phone.OfAddress: {600, 500 * time.Millisecond},
	phone.OfGuesses: {20, 30 * time.Second},
}

// mostRemembered bounds the memory that tries take.
const mostRemembered = 20_000

// tries bounds signing in.
type tries struct {
	now func() time.Time
	mu  sync.Mutex
	of  map[string]*rate.Limiter
}

func newTries(now func() time.Time) *tries {
	return &tries{now: now, of: map[string]*rate.Limiter{}}
}

// allow tells whether one more try for a name from an address is due, and counts it.
func (t *tries) allow(name, address string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if !t.limiter("both "+name+" "+address, paceOfBoth, now).AllowN(now, 1) {
		return false
	}
	byName := t.limiter("name "+name, paceOfName, now).AllowN(now, 1)
	byAddress := t.limiter("address "+address, paceOfAddress, now).AllowN(now, 1)
	return byName && byAddress
}

// forgive forgets the tries of a person who signed in.
func (t *tries) forgive(name, address string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.of, "both "+name+" "+address)
}

func (t *tries) limiter(key string, p pace, now time.Time) *rate.Limiter {
	if l, ok := t.of[key]; ok {
		return l
	}
	if len(t.of) >= mostRemembered { // those that are full again need no remembering
		for k, l := range t.of {
			if l.TokensAt(now) >= float64(l.Burst()) {
				delete(t.of, k)
			}
		}
	}
	l := rate.NewLimiter(rate.Every(p.every), p.atOnce)
	t.of[key] = l
	return l
}

// due tells whether n more of a pace of phones are due to somebody, and counts them; of
// none it tells whether one would be.
func (t *tries) due(of phone.Pace, who string, n int) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	l := t.limiter(string(of)+" "+who, pacesOfPhones[of], now)
	if n == 0 {
		return l.TokensAt(now) >= 1
	}
	return l.AllowN(now, n)
}
