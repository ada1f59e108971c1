package web

import (
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// How often one may try to sign in: a few times at once, then one try every so long. The
// bound by name protects an account from many addresses, that by address many accounts
// from one.
const (
	triesAtOnce    = 6
	tryEvery       = 20 * time.Second
	mostRemembered = 20_000
)

// tries bounds signing in.
type tries struct {
	now func() time.Time
	mu  sync.Mutex
	of  map[string]*rate.Limiter
}

func newTries(now func() time.Time) *tries {
	return &tries{now: now, of: map[string]*rate.Limiter{}}
}

// allow tells whether one more try is due for all of the keys, and counts it.
func (t *tries) allow(keys ...string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now, all := t.now(), true
	for _, key := range keys {
		if !t.limiter(key, now).AllowN(now, 1) {
			all = false
		}
	}
	return all
}

// forgive gives a name its tries back once somebody signed in.
func (t *tries) forgive(keys ...string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, key := range keys {
		delete(t.of, key)
	}
}

func (t *tries) limiter(key string, now time.Time) *rate.Limiter {
	if l, ok := t.of[key]; ok {
		return l
	}
	if len(t.of) >= mostRemembered { // those that are full again need no remembering
		for k, l := range t.of {
			if l.TokensAt(now) >= triesAtOnce {
				delete(t.of, k)
			}
		}
	}
	l := rate.NewLimiter(rate.Every(tryEvery), triesAtOnce)
	t.of[key] = l
	return l
}
