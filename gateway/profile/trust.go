package profile

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"

	"rowbell/gateway/fault"
)

// TrustSpec is the table trust of rowbell.toml: who may call the service.
type TrustSpec struct {
	By        string   `toml:"by"`        // how callers prove who they are: signature, hmac, bearer, basic, address
	User      string   `toml:"user"`      // user name for basic
	Secrets   []string `toml:"secrets"`   // names of environment variables; two names while a secret is being replaced
	From      []string `toml:"from"`      // addresses and networks, such as 192.0.2.0/24, from which calls may come
	Tolerance Span     `toml:"tolerance"` // how far a signature's time may differ from our clock; default 5m
	Covers    string   `toml:"covers"`    // what by = "signature" covers: body, call (see Trust.content); default body
	HMACSpec
}

// Ways in which a caller can prove who it is.
const (
	ByBearer    = "bearer"    // a bearer token (RFC 6750)
	ByBasic     = "basic"     // a user name and a password (RFC 7617)
	BySignature = "signature" // a signature of the body (Standard Webhooks 1.0.0)
	ByHMAC      = "hmac"      // a signature in a form of the network's own, see HMACSpec
	ByAddress   = "address"   // nothing but the caller's address
)

// Trust says who may call: the one way in which a caller proves who it is, and the addresses from which it may call.
type Trust struct {
	by        string // one of the constants ByBearer to ByAddress
	user      string
	from      []netip.Prefix // networks from which calls may come; empty: calls may come from any address
	tolerance time.Duration
	hashes    []Hash    // hashes of bearer tokens and passwords
	keys      [][]byte  // keys of signatures
	wholeCall bool      // a signature of Standard Webhooks covers method, path and query too
	hmac      *hmacRule // nil unless by is ByHMAC
}

func (s TrustSpec) build(look Lookup) (*Trust, error) {
	var m fault.List
	t := &Trust{by: s.By, user: s.User, tolerance: cmp.Or(time.Duration(s.Tolerance), defaultTolerance)}
	m.Add("tolerance", s.Tolerance.check())
	for i, from := range s.From {
		p, err := ParseNetwork(from)
		m.Refuse(err != nil, fmt.Sprintf("from[%d]", i+1), "%q: %w", from, err)
		t.from = append(t.from, p)
	}
	known := true
	switch s.By {
	case ByBearer, ByBasic, BySignature, ByHMAC:
		m.Refuse(len(s.Secrets) == 0, "secrets", "name the environment variable that holds the secret")
	case ByAddress:
		everybody := slices.ContainsFunc(t.from, func(p netip.Prefix) bool { return p.IsValid() && p.Bits() == 0 })
		m.Refuse(len(t.from) == 0, "from", "say which addresses may call")
		m.Refuse(everybody, "from", "that is everybody; say which addresses may call, or have calls signed")
		m.Refuse(len(s.Secrets) > 0, "secrets", "none is asked for by address")
	default:
		known = false
		m.Refuse(true, "by", "%q is not one of signature, hmac, bearer, basic, address", s.By)
	}
	m.Refuse(known && (s.By == ByBasic) != (s.User != "") || strings.Contains(s.User, ":"),
		"user", "basic has a user, without a colon, and nothing else has")
	t.wholeCall = s.Covers == coversCall
	m.Refuse(!slices.Contains([]string{"", coversBody, coversCall}, s.Covers),
		"covers", "%q is not body or call", s.Covers)
	m.Refuse(known && s.Covers != "" && s.By != BySignature, "covers",
		`it is for "signature"; what an hmac signs is in signs`)
	longest := maxTolerance
	if s.By == ByHMAC {
		var err error
		t.hmac, err = s.HMACSpec.build()
		m.Add("", err)
		longest = maxHMACTolerance
	}
	m.Refuse(known && s.By != ByHMAC && s.HMACSpec != HMACSpec{}, "by",
		`header, coding, prefix, signs, time_header and time are for "hmac"`)
	m.Refuse(known && s.Tolerance != 0 && s.By != BySignature && s.TimeHeader == "", "tolerance",
		"only a signature has a time")
	m.Refuse(t.tolerance > longest, "tolerance", "%s is longer than %s: a recorded call could be sent again "+
		"when nothing is known of it any more", t.tolerance, longest)
	for i, env := range s.Secrets {
		name := fmt.Sprintf("secrets[%d]", i+1)
		v, err := look.secret(env)
		m.Add(name, err)
		t.hashes = append(t.hashes, HashToken(v))
		if s.By == BySignature && err == nil {
			k, err := signingKey(v)
			m.Refuse(err != nil, name, "%s: %w", env, err)
			t.keys = append(t.keys, k)
		}
		if s.By == ByHMAC {
			t.keys = append(t.keys, []byte(v))
		}
	}
	return t, m.Err()
}

var errNetwork = errors.New("this is neither an address nor a network such as 192.0.2.0/24")

// ParseNetwork reads a network such as 192.0.2.0/24, or an address as a network of one. It refuses IPv4 addresses
// written as IPv6 and addresses with a zone, which would match no caller, and a network with host bits, such as
// 192.0.2.7/24, which may mean one machine. The error is a sentence for the operator.
func ParseNetwork(s string) (netip.Prefix, error) {
	p, err := netip.ParsePrefix(s)
	if err != nil {
		var a netip.Addr
		if a, err = netip.ParseAddr(s); err == nil && a.Zone() == "" {
			p = netip.PrefixFrom(a, a.BitLen())
		}
	}
	if err != nil || !p.IsValid() || p.Addr().Is4In6() {
		return netip.Prefix{}, errNetwork
	}
	if p != p.Masked() {
		return netip.Prefix{}, fmt.Errorf("this has digits beyond the network: %s or %s is meant", p.Masked(), p.Addr())
	}
	return p, nil
}

// HasSecret reports whether callers send a secret that somebody may guess.
func (t *Trust) HasSecret() bool { return t.by == ByBearer || t.by == ByBasic }

// Signs reports whether callers sign the body, which must then be read before the caller is known.
func (t *Trust) Signs() bool { return t.by == BySignature || t.by == ByHMAC }

// SignsTime reports whether a signature covers the time of the call, so that a recorded call is refused later.
func (t *Trust) SignsTime() bool { return t.by == BySignature || t.by == ByHMAC && t.hmac.at }

// covers reports whether the signature covers the values that stand in this place.
func (t *Trust) covers(s source) bool {
	if t.by == ByHMAC {
		return t.hmac.body && s == inBody || t.hmac.query && s == inQuery
	}
	return s == inBody || t.wholeCall && s == inQuery
}

// SignsPath reports whether a signature covers the path, so that a call of one kind or to one network cannot be sent as
// another.
func (t *Trust) SignsPath() bool { return t.wholeCall || t.by == ByHMAC && t.hmac.path }

// errUncovered is the error for a value in a place that the signature does not cover.
func (t *Trust) errUncovered(s source) error {
	switch {
	case t.by != ByHMAC && s == inQuery:
		return errors.New(`a signature covers the body only, and not all values are in it; with covers = "call" ` +
			"it covers the query too")
	case t.by != ByHMAC && !t.wholeCall:
		return errors.New("a signature covers the body only, and not all values are in it")
	case s == inHeader:
		return errors.New("a signature covers no header of a value, and not all values are in the body or the query")
	case s == inQuery:
		return errors.New("a value is in the query, and trust.signs has no {{.Query}}")
	}
	return errors.New("a value is in the body, and trust.signs has no {{.Body}}")
}

// SignedAt returns the time of a signed call by its headers; ok is false if the call has none.
func (t *Trust) SignedAt(h http.Header) (at time.Time, ok bool) {
	switch t.by {
	case BySignature:
		at = parseTime(layoutUnix, h.Get("webhook-timestamp"))
	case ByHMAC:
		at = exactTime(t.hmac.layout, h.Get(t.hmac.timeHeader))
	}
	return at, !at.IsZero()
}

// ByAddress reports whether the caller's address is the only proof of who calls.
func (t *Trust) ByAddress() bool { return t.by == ByAddress }

// Challenge is the value for the header WWW-Authenticate; "" if callers send no Authorization header.
func (t *Trust) Challenge() string {
	switch t.by {
	case ByBearer:
		return `Bearer realm="rowbell"`
	case ByBasic:
		return `Basic realm="rowbell", charset="UTF-8"`
	}
	return ""
}

// AdmitsFrom reports whether calls may come from the address a.
func (t *Trust) AdmitsFrom(a netip.Addr) bool {
	a = a.Unmap()
	return len(t.from) == 0 || slices.ContainsFunc(t.from, func(p netip.Prefix) bool { return p.Contains(a) })
}

// Admits reports whether an Authorization header proves the caller. It is true for every header if an address or a
// signature proves the caller.
func (t *Trust) Admits(authorization string) bool {
	scheme, credentials, _ := strings.Cut(authorization, " ")
	credentials = strings.TrimSpace(credentials)
	switch t.by {
	case ByBearer:
		return t.knows(credentials) && strings.EqualFold(scheme, "Bearer")
	case ByBasic:
		b, err := base64.StdEncoding.DecodeString(credentials)
		user, password, ok := strings.Cut(string(b), ":")
		got, want := sha256.Sum256([]byte(user)), sha256.Sum256([]byte(t.user))
		same := subtle.ConstantTimeCompare(got[:], want[:]) == 1
		known := t.knows(password)
		return known && same && ok && err == nil && strings.EqualFold(scheme, "Basic")
	}
	return true
}

// knows compares a secret with all valid secrets, in a time that does not show where they differ.
func (t *Trust) knows(secret string) bool {
	got := HashToken(secret)
	same := 0
	for _, h := range t.hashes {
		same |= subtle.ConstantTimeCompare(got[:], h[:])
	}
	return same == 1
}

// Hash is the SHA-256 of a bearer token or password. Tokens and passwords are long and random, so no salt is needed.
type Hash [sha256.Size]byte

// HashToken hashes a token.
func HashToken(token string) Hash { return sha256.Sum256([]byte(token)) }

// Admits reports whether an Authorization header carries the token with the hash h.
func (h Hash) Admits(authorization string) bool {
	t := Trust{by: ByBearer, hashes: []Hash{h}}
	return h != Hash{} && t.Admits(authorization)
}

// Signatures follow Standard Webhooks 1.0.0: HMAC-SHA256 over the id, the timestamp and the raw body, joined by dots.
// The specification does not say how far the timestamp may differ from the clock; five minutes is common practice.
const (
	defaultTolerance = 5 * time.Minute
	maxTolerance     = time.Hour // replies are stored for longer than this, so a call that is sent again is recognised
	secretPrefix     = "whsec_"
	minSecretOctets  = 24 // required by the specification
	maxSecretOctets  = 64
	maxSignatures    = 16 // most signatures in one header, because each one costs a comparison
)

var errSignature = CallError("The signature is not right for this body and these secrets.")

// Verified says by what a signed call can be recognised when it comes again. Both are "" where a call has no such id.
type Verified struct {
	WebhookID string // the header webhook-id, which is the same in each repeat of the call
	Once      string // the same only in a copy of the call
}

// Verify checks the signature of a call at the instant now. The CallError does not show which signature would be right.
func (t *Trust) Verify(c Signed, now time.Time) (Verified, error) {
	if t.by == ByHMAC {
		once, err := t.hmac.verify(t.keys, c, now, t.tolerance)
		return Verified{Once: once}, err
	}
	return Verified{WebhookID: c.Header.Get("webhook-id")}, t.verifyWebhook(c.Header, t.content(c), now)
}

// What a signature of Standard Webhooks covers.
const (
	coversBody = "body" // as the specification has it
	coversCall = "call" // the body with a line before it: the method, a blank, the path and the query
)

// content returns what Standard Webhooks calls the payload. With covers = "call" it begins with a line such as
// "POST /in/heron/sms", so a caller may sign it with any library for Standard Webhooks.
func (t *Trust) content(c Signed) []byte {
	if !t.wholeCall {
		return c.Body
	}
	line := c.Method + " " + c.Path
	if c.Query != "" {
		line += "?" + c.Query
	}
	return append([]byte(line+"\n"), c.Body...)
}

// verifyWebhook checks a signature of Standard Webhooks.
func (t *Trust) verifyWebhook(h http.Header, body []byte, now time.Time) error {
	id, stamp := h.Get("webhook-id"), h.Get("webhook-timestamp")
	given := strings.Fields(h.Get("webhook-signature"))
	if id == "" || stamp == "" || len(given) == 0 {
		return CallError("The headers webhook-id, webhook-timestamp and webhook-signature are needed.")
	}
	if strings.Contains(id, ".") || len(given) > maxSignatures {
		return errSignature
	}
	seconds, err := strconv.ParseInt(stamp, 10, 64)
	if err != nil || strconv.FormatInt(seconds, 10) != stamp {
		return CallError("The webhook-timestamp header is not a time in whole Unix seconds.")
	}
	good := false
	for _, key := range t.keys {
		want := sign(key, id, stamp, body)
		for _, s := range given {
			version, value, _ := strings.Cut(s, ",")
			sum, err := base64.StdEncoding.DecodeString(value)
			if hmac.Equal(sum, want) && err == nil && version == "v1" {
				good = true
			}
		}
	}
	if !good {
		return errSignature
	}
	// The times are compared in seconds, because a time.Time cannot hold every int64 of seconds. A difference that
	// overflows here is far beyond the limit too.
	limit := int64(t.tolerance / time.Second)
	if off := seconds - now.Unix(); off > limit || off < -limit {
		return CallError("The webhook-timestamp is too far from the time it is here.")
	}
	return nil
}

func sign(key []byte, id, stamp string, body []byte) []byte {
	return hmacSHA256(key, append([]byte(id+"."+stamp+"."), body...))
}

// Sign returns the value of a webhook-signature header, or an error if the secret is not a signing key.
func Sign(secret, id string, at time.Time, body []byte) (string, error) {
	key, err := signingKey(secret)
	if err != nil {
		return "", err
	}
	return "v1," + base64.StdEncoding.EncodeToString(sign(key, id, strconv.FormatInt(at.Unix(), 10), body)), nil
}

// signingKey decodes a secret. The error does not show the secret.
func signingKey(secret string) ([]byte, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, secretPrefix))
	if err != nil || len(key) < minSecretOctets || len(key) > maxSecretOctets {
		return nil, errors.New("it is not whsec_ and the base64 of 24 to 64 octets, " +
			"as openssl rand -base64 32 makes them")
	}
	return key, nil
}
