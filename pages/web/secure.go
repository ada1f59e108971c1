package web

import (
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"earstone/store/accounts"
)

// usualBody bounds what a request may send, in bytes, where its route says no more.
const usualBody = 64 << 10

// policy is what a page may load: what we serve as files, and nothing else. There is no
// script and no style within a page, so that text of others can never become either.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// secured puts around the table what holds for every request.
func (s *server) secured(next http.Handler) http.Handler {
	foreign := http.NewCrossOriginProtection()
	foreign.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "This came from another site, and was not done. Open the page here and send it from there.", http.StatusForbidden)
	}))
	inner := foreign.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		if s.Secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if !s.knows(r.Host) {
			http.Error(w, "This server is not known by that name. Ask for it by its own, or name it with --name.", http.StatusMisdirectedRequest)
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// knows tells whether a request asks for this server by a name of its own. A page of
// another site can make its name lead to this machine, and would else be let in.
func (s *server) knows(host string) bool {
	name := host
	if h, port, err := net.SplitHostPort(host); err == nil {
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return false // no browser asks so, and nothing after the name goes unread
		}
		name = h
	}
	name = strings.ToLower(strings.TrimSuffix(strings.Trim(name, "[]"), "."))
	if name == "localhost" || name == "127.0.0.1" || name == "::1" {
		return true
	}
	return slices.ContainsFunc(s.Hosts, func(own string) bool { return strings.EqualFold(own, name) })
}

// cookieName keeps, where the way is encrypted, other sites of the same domain from
// setting the cookie.
func (s *server) cookieName() string {
	if s.Secure {
		return "__Host-earstone"
	}
	return "earstone"
}

func (s *server) cookie(token accounts.Token, lasts time.Duration) *http.Cookie {
	age := int(lasts / time.Second)
	if lasts == 0 {
		age = -1
	}
	return &http.Cookie{Name: s.cookieName(), Value: string(token), Path: "/", MaxAge: age,
		Secure: s.Secure, HttpOnly: true, SameSite: http.SameSiteLaxMode}
}

func (s *server) token(r *http.Request) accounts.Token {
	c, err := r.Cookie(s.cookieName())
	if err != nil {
		return ""
	}
	return accounts.Token(c.Value)
}
