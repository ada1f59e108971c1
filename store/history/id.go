package history

import (
	"bytes"
	"encoding/hex"
	"fmt"

	"github.com/google/uuid"
)

// ID is an identity that never changes, of an entry or of a record. The zero value is
// unknown. IDs that are made one after another are in that order.
type ID [16]byte

// NewID is a fresh identity (UUID version 7, RFC 9562).
func NewID() ID { return ID(uuid.Must(uuid.NewV7())) }

// ParseID reads what String writes; an empty text is the unknown ID.
func ParseID(text string) (ID, error) {
	if text == "" {
		return ID{}, nil
	}
	id, err := uuid.Parse(text)
	if err != nil || len(text) != 36 {
		return ID{}, fmt.Errorf("reading the identity %q: it has not the form 01890a5d-ac96-774b-bcce-b302099a8057", text)
	}
	return ID(id), nil
}

// String is the usual text of a UUID, or empty when it is unknown.
func (id ID) String() string {
	if !id.Known() {
		return ""
	}
	return uuid.UUID(id).String()
}

// Known is false for the zero value.
func (id ID) Known() bool { return id != ID{} }

// Compare orders identities by their making.
func (id ID) Compare(other ID) int { return bytes.Compare(id[:], other[:]) }

// Hash is a SHA-256.
type Hash [32]byte

// String is the hash in hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }
