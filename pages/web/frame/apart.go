package frame

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"
	"strings"
)

var errNoStyle = errors.New("frame: a page that stands by itself has no style")

// Apart answers with a whole page that stands by itself, such as one to print: it loads
// nothing, runs nothing, and reaches no other page of the server.
func Apart(page []byte) (Answer, error) {
	_, rest, _ := strings.Cut(string(page), "<style>")
	style, _, there := strings.Cut(rest, "</style>")
	if !there {
		return Answer{}, errNoStyle
	}
	sum := sha256.Sum256([]byte(style))
	return Streamed(Stream{Kind: "text/html; charset=utf-8", Alone: true,
		Policy: "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox",
		Write:  func(to io.Writer) error { _, err := to.Write(page); return err }}), nil
}
