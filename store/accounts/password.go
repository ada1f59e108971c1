package accounts

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// cost is what one hash takes: Argon2id as RFC 9106 describes it, 19 MiB of memory, two
// passes, one lane.
type cost struct {
	memory, passes uint32
	lanes          uint8
}

var today = cost{memory: 19 * 1024, passes: 2, lanes: 1}

const (
	saltBytes = 16
	hashBytes = 32
)

// weak tells whether a password is refused. Length is what protects; there is no rule
// about the kinds of signs, which only makes people write passwords down.
func weak(id, password string) bool {
	n := utf8.RuneCountInString(password)
	return n < 12 || n > 200 || strings.EqualFold(password, id)
}

// hash is a password as it is kept: $argon2id$v=19$m=19456,t=2,p=1$salt$hash.
func (r *Register) hash(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", fmt.Errorf("drawing a salt: %w", err)
	}
	key, err := r.derive(ctx, today, salt, password)
	if err != nil {
		return "", err
	}
	plain := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, today.memory, today.passes, today.lanes,
		plain.EncodeToString(salt), plain.EncodeToString(key)), nil
}

// derive waits for its turn: a flood of sign-ins must not take all memory.
func (r *Register) derive(ctx context.Context, c cost, salt []byte, password string) ([]byte, error) {
	select {
	case r.hashing <- struct{}{}:
		defer func() { <-r.hashing }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey([]byte(password), salt, c.passes, c.memory, c.lanes, hashBytes), nil
}

// fits tells whether a password is the one that was hashed.
func (r *Register) fits(ctx context.Context, password, hashed string) (bool, error) {
	c, salt, want, err := parseHash(hashed)
	if err != nil {
		return false, err
	}
	got, err := r.derive(ctx, c, salt, password)
	if err != nil {
		return false, err
	}
	return subtle.ConstantTimeCompare(got, want) == 1, nil
}

func parseHash(hashed string) (c cost, salt, key []byte, err error) {
	parts := strings.Split(hashed, "$")
	bad := func(why error) (cost, []byte, []byte, error) {
		return cost{}, nil, nil, fmt.Errorf("reading a kept password: %w", why)
	}
	if len(parts) != 6 || parts[1] != "argon2id" {
		return bad(fmt.Errorf("it is of an unknown form"))
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.memory, &c.passes, &c.lanes); err != nil {
		return bad(err)
	}
	if salt, err = base64.RawStdEncoding.DecodeString(parts[4]); err != nil {
		return bad(err)
	}
	if key, err = base64.RawStdEncoding.DecodeString(parts[5]); err != nil {
		return bad(err)
	}
	if len(key) != hashBytes || c.passes == 0 || c.lanes == 0 || c.memory > 1<<20 {
		return bad(fmt.Errorf("its figures are out of bounds"))
	}
	return c, salt, key, nil
}
