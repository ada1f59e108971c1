package web

import (
	"container/list"
	"crypto/sha256"
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
// holds against many addresses, that of an address against many names. A whole harbour may
// sign in through one address, so that it is wide: who guesses there meets the others.
var (
	paceOfBoth    = pace{6, 20 * time.Second}
	paceOfName    = pace{30, 10 * time.Second}
	paceOfAddress = pace{300, time.Second}
)

// The bounds of phones. A kit that was full sends its cards and two photographs of each at
// once; a harbour may send through one address. A code that is typed wrong meets none of
// them, and guessing takes longer than there is.
var pacesOfPhones = map[phone.Pace]pace{
	phone.OfKit:     {300, time.Second},
	phone.OfAddress: {600, 500 * time.Millisecond},
	phone.OfGuesses: {20, 30 * time.Second},
}

// mostRemembered is of how many each bound remembers the tries.
const mostRemembered = 20_000

// tries bounds signing in and what phones send.
type tries struct {
	now                 func() time.Time
	mu                  sync.Mutex
	both, name, address *paced
	phones              map[phone.Pace]*paced
}

func newTries(now func() time.Time) *tries {
	t := &tries{now: now, both: newPaced(paceOfBoth), name: newPaced(paceOfName), address: newPaced(paceOfAddress), phones: map[phone.Pace]*paced{}}
	for of, p := range pacesOfPhones {
		t.phones[of] = newPaced(p)
	}
	return t
}

// allow tells whether one more try for a name from an address is due, and counts it. The
// address is asked first, so that who has used it up makes nothing be remembered; a try
// that the two together refuse is not counted against the address of others.
func (t *tries) allow(name, address string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	from := t.address.limiter(address)
	if from.TokensAt(now) < 1 || !t.both.limiter(name+" "+address).AllowN(now, 1) {
		return false
	}
	return from.AllowN(now, 1) && t.name.limiter(name).AllowN(now, 1)
}

// forgive forgets the tries of a person who signed in.
func (t *tries) forgive(name, address string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.both.forget(name + " " + address)
}

// due tells whether n more of a pace of phones are due to somebody, and counts them; of
// none it tells whether one would be.
func (t *tries) due(of phone.Pace, who string, n int) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	l := t.phones[of].limiter(who)
	if n == 0 {
		return l.TokensAt(now) >= 1
	}
	return l.AllowN(now, n)
}

// paced remembers who tried at one pace. Whoever has not tried for longest is forgotten for
// another, at no cost that grows with their number; a key is as long as any other.
type paced struct {
	pace
	of   map[[sha256.Size]byte]*list.Element // of tried
	last *list.List                          // the latest first
}

type tried struct {
	key     [sha256.Size]byte
	limiter *rate.Limiter
}

func newPaced(p pace) *paced {
	return &paced{pace: p, of: map[[sha256.Size]byte]*list.Element{}, last: list.New()}
}

func (p *paced) limiter(who string) *rate.Limiter {
	key := sha256.Sum256([]byte(who))
	if at, ok := p.of[key]; ok {
		p.last.MoveToFront(at)
		return at.Value.(tried).limiter
	}
	if p.last.Len() >= mostRemembered {
		p.drop(p.last.Back())
	}
	l := rate.NewLimiter(rate.Every(p.every), p.atOnce)
	p.of[key] = p.last.PushFront(tried{key, l})
	return l
}

func (p *paced) forget(who string) {
	if at, ok := p.of[sha256.Sum256([]byte(who))]; ok {
		p.drop(at)
	}
}

func (p *paced) drop(at *list.Element) {
	delete(p.of, p.last.Remove(at).(tried).key)
}
