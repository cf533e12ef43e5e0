package profile

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// Trust is who may call: one way to show it, and addresses to call from.
type Trust struct {
	by        string // bearer, basic, signature, address
	user      string
	from      []netip.Prefix // none: any
	tolerance time.Duration
	hashes    []Hash   // of bearer tokens and passwords
	keys      [][]byte // of signatures
}

var errNetwork = errors.New("this is neither an address nor a network such as 192.0.2.0/24")

// ParseNetwork reads a network such as 192.0.2.0/24, or an address as the
// network of it alone. IPv4 written as IPv6, or a zone, would match nobody; with
// digits beyond the network one machine may be meant. The error is a sentence
// that tells.
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

// Ways to trust a caller.
const (
	ByBearer    = "bearer"    // RFC 6750
	ByBasic     = "basic"     // RFC 7617
	BySignature = "signature" // Standard Webhooks 1.0.0
	ByAddress   = "address"   // nothing but where the call comes from
)

// Signs reports that the body is signed: it has to be read before the caller
// is known.
func (t *Trust) Signs() bool { return t.by == BySignature }

// ByAddress reports that nothing but the address tells who calls.
func (t *Trust) ByAddress() bool { return t.by == ByAddress }

// Challenge is what WWW-Authenticate asks for; "" where there is no such
// scheme.
func (t *Trust) Challenge() string {
	switch t.by {
	case ByBearer:
		return `Bearer realm="rowbell"`
	case ByBasic:
		return `Basic realm="rowbell", charset="UTF-8"`
	}
	return ""
}

// AdmitsFrom reports whether a caller may call from this address.
func (t *Trust) AdmitsFrom(a netip.Addr) bool {
	a = a.Unmap()
	return len(t.from) == 0 || slices.ContainsFunc(t.from, func(p netip.Prefix) bool { return p.Contains(a) })
}

// Admits reports whether an Authorization header is the caller's. Where none is
// asked for it admits everybody: the address or the signature decides.
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

// knows compares a secret with all that count, in time that does not depend on
// where they differ.
func (t *Trust) knows(secret string) bool {
	got := HashToken(secret)
	same := 0
	for _, h := range t.hashes {
		same |= subtle.ConstantTimeCompare(got[:], h[:])
	}
	return same == 1
}
