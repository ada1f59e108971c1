package history

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"
)

// payload is the part of an entry that a removal takes away, in the form in which it is
// kept. Keys are in alphabetical order and none is empty, so that equal payloads have
// equal bytes.
type payload struct {
	Fields Fields `json:"fields,omitempty"`
	Raw    Fields `json:"raw,omitempty"`
	Salt   []byte `json:"salt"`
	Why    string `json:"why,omitempty"`
}

// Payload is the removable part of a sealed entry as JSON; nil when it was removed.
func (e *Entry) Payload() ([]byte, error) {
	if e.Removed {
		return nil, nil
	}
	var text bytes.Buffer
	to := json.NewEncoder(&text)
	to.SetEscapeHTML(false)
	if err := to.Encode(payload{e.Fields, e.Raw, e.Salt[:], e.Why}); err != nil {
		return nil, fmt.Errorf("writing entry %s: %w", e.ID, err)
	}
	return bytes.TrimSuffix(text.Bytes(), []byte("\n")), nil
}

// Open fills the removable part of an entry from its payload; of none the entry is a
// removed one.
func (e *Entry) Open(text []byte) error {
	if len(text) == 0 {
		e.Fields, e.Raw, e.Why, e.Salt, e.Removed = nil, nil, "", [16]byte{}, true
		return nil
	}
	var p payload
	if err := json.Unmarshal(text, &p); err != nil {
		return fmt.Errorf("reading the payload of entry %s: %w", e.ID, err)
	}
	e.Fields, e.Raw, e.Why, e.Removed = p.Fields, p.Raw, p.Why, false
	copy(e.Salt[:], p.Salt)
	return nil
}

// Seal makes an entry ready to be kept: IDs where there are none, time in UTC to the
// microsecond, no empty fields, salt and digest. It tells what the entry lacks.
func (e *Entry) Seal() error {
	if err := e.sound(); err != nil {
		return err
	}
	if !e.ID.Known() {
		e.ID = NewID()
	}
	if !e.Subject.Known() {
		e.Subject = NewID()
	}
	e.When = e.When.UTC().Truncate(time.Microsecond)
	e.Fields, e.Raw = e.Fields.filled(), e.Raw.filled()
	if e.Salt == [16]byte{} {
		_, _ = rand.Read(e.Salt[:]) // it never fails
	}
	text, err := e.Payload()
	if err != nil {
		return err
	}
	e.Digest = sha256.Sum256(text)
	return nil
}

// sound asks for what every entry must say.
func (e *Entry) sound() error {
	switch {
	case e.Kind == "":
		return errors.New("history: an entry without a kind")
	case e.Who == "":
		return errors.New("history: an entry must say who wrote it")
	case e.When.IsZero():
		return errors.New("history: an entry must say when it was written")
	case len(e.Supersedes) > 0 && e.Why == "":
		return errors.New("history: an entry that supersedes another must say why")
	case e.Removed:
		return errors.New("history: a removed entry can't be written anew")
	case !e.isText():
		return errors.New("history: an entry holds bytes that are no UTF-8 text")
	}
	return nil
}

func (e *Entry) isText() bool {
	ok := utf8.ValidString(e.Why) && utf8.ValidString(e.Who) && utf8.ValidString(string(e.Kind))
	for _, fields := range []Fields{e.Fields, e.Raw} {
		for name, text := range fields {
			ok = ok && utf8.ValidString(name) && utf8.ValidString(text)
		}
	}
	return ok
}

// filled is a copy without empty fields.
func (f Fields) filled() Fields {
	all := make(Fields, len(f))
	for name, text := range f {
		if text != "" {
			all[name] = text
		}
	}
	return all
}

// Hash is that of the whole entry. It takes the payload by its digest alone, so that it
// can be held against an entry whose payload was removed.
func (e *Entry) Hash() Hash {
	b := append(make([]byte, 0, 256), "earstone entry 1\n"...)
	b = append(b, e.ID[:]...)
	b = append(b, e.Subject[:]...)
	b = appendText(b, string(e.Kind))
	b = binary.AppendUvarint(b, uint64(len(e.Supersedes)))
	for _, id := range e.Supersedes {
		b = append(b, id[:]...)
	}
	b = appendText(b, e.Who)
	b = binary.AppendVarint(b, e.When.UnixMicro())
	b = append(b, e.Import[:]...)
	b = binary.AppendVarint(b, int64(e.Row))
	b = append(b, e.Digest[:]...)
	return sha256.Sum256(b)
}

func appendText(b []byte, text string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(text))), text...)
}

// Link is the hash of a chain after one more entry.
func (h Hash) Link(entry Hash) Hash {
	return sha256.Sum256(append(append(make([]byte, 0, 64), h[:]...), entry[:]...))
}
