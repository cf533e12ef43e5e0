package profile

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// Signatures are those of Standard Webhooks 1.0.0: HMAC-SHA256 of the id, the
// timestamp and the raw body, with dots between them. The specification leaves
// the tolerance of the timestamp open; five minutes is common practice.
const (
	defaultTolerance = 5 * time.Minute
	maxTolerance     = time.Hour // much less than any call is remembered
	secretPrefix     = "whsec_"
	minSecret        = 24 // octets, as the specification asks
	maxSecret        = 64
	maxSignatures    = 16 // in one header: each costs a comparison
)

var errSignature = Wrong("The signature is not right for this body and these secrets.")

// Verify checks the signature of a body at the instant now. The error says
// what is wrong, and nothing of what would be right.
func (t *Trust) Verify(h http.Header, body []byte, now time.Time) error {
	id, stamp := h.Get("webhook-id"), h.Get("webhook-timestamp")
	given := strings.Fields(h.Get("webhook-signature"))
	if id == "" || stamp == "" || len(given) == 0 {
		return Wrong("The headers webhook-id, webhook-timestamp and webhook-signature are needed.")
	}
	if strings.Contains(id, ".") || len(given) > maxSignatures {
		return errSignature
	}
	seconds, err := strconv.ParseInt(stamp, 10, 64)
	if err != nil || strconv.FormatInt(seconds, 10) != stamp {
		return Wrong("The webhook-timestamp header is not a time in whole Unix seconds.")
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
	// Compared as seconds: a span between far instants overflows.
	if off := seconds - now.Unix(); off > int64(t.tolerance/time.Second) || off < -int64(t.tolerance/time.Second) {
		return Wrong("The webhook-timestamp is too far from the time it is here.")
	}
	return nil
}

func sign(key []byte, id, stamp string, body []byte) []byte {
	m := hmac.New(sha256.New, key)
	m.Write([]byte(id + "." + stamp + "."))
	m.Write(body)
	return m.Sum(nil)
}

// Sign is the value of a webhook-signature header: for samples and tests.
func Sign(secret, id string, at time.Time, body []byte) (string, error) {
	key, err := signingKey(secret)
	if err != nil {
		return "", err
	}
	return "v1," + base64.StdEncoding.EncodeToString(sign(key, id, strconv.FormatInt(at.Unix(), 10), body)), nil
}

// signingKey reads a secret; what is wrong with it is told without it.
func signingKey(secret string) ([]byte, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, secretPrefix))
	if err != nil || len(key) < minSecret || len(key) > maxSecret {
		return nil, errors.New("it is not whsec_ and the base64 of 24 to 64 octets, as openssl rand -base64 32 makes them")
	}
	return key, nil
}
