package profile

import (
	"encoding/base64"
	"fmt"
	"maps"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Explain says, to the person who describes the network, why a recorded call is not let in. It shows no secret. Of the
// call it shows the caller's address, the method, the path, the signed time and the names of the headers. "" means that
// there is nothing to say.
func (t *Trust) Explain(c Signed, from netip.Addr, now time.Time) string {
	if !t.AdmitsFrom(from) {
		var list []string
		for _, p := range t.from {
			list = append(list, p.String())
		}
		return fmt.Sprintf("the call comes from %s, and from has %s; --from says where a recorded call came from",
			from.Unmap(), strings.Join(list, ", "))
	}
	switch t.by {
	case ByBearer, ByBasic:
		return t.explainSecret(c.Header)
	case ByHMAC:
		return t.hmac.explain(c, now, t.tolerance)
	case BySignature:
		if c.Header.Get("webhook-signature") == "" {
			return listHeaders(c.Header)
		}
		content := "body"
		if t.wholeCall {
			content = fmt.Sprintf("%q", t.content(withoutValues(c)))
		}
		return "signed are webhook-id, webhook-timestamp and " + content + " with points between them; " +
			"the key is the base64 behind whsec_"
	}
	return ""
}

func (t *Trust) explainSecret(h http.Header) string {
	scheme, credentials, _ := strings.Cut(h.Get("Authorization"), " ")
	switch {
	case scheme == "":
		return "there is no header Authorization; " + listHeaders(h)
	case !strings.EqualFold(scheme, t.by):
		return fmt.Sprintf("the header Authorization does not begin with %s, and by is %q", schemes[t.by], t.by)
	case t.by == ByBasic:
		b, err := base64.StdEncoding.DecodeString(strings.TrimSpace(credentials))
		user, _, found := strings.Cut(string(b), ":")
		if err != nil || !found {
			return "what follows Basic is not the base64 of user:password"
		}
		if user != t.user {
			return fmt.Sprintf("the user in the header Authorization is not %q", t.user)
		}
	}
	return "the secret in the header Authorization is none of those that secrets names"
}

// schemes has the scheme of the header Authorization for each way to prove who calls that needs this header.
var schemes = map[string]string{ByBearer: "Bearer", ByBasic: "Basic"}

func (r *hmacRule) explain(c Signed, now time.Time, tolerance time.Duration) string {
	values := c.Header.Values(r.header)
	if len(values) != 1 {
		return listHeaders(c.Header)
	}
	sum, _ := r.signature(c.Header)
	coding := "hex"
	if r.base64 {
		coding = "base64"
	}
	stamp := c.Header.Get(r.timeHeader)
	at := exactTime(r.layout, stamp)
	switch {
	case !strings.HasPrefix(values[0], r.prefix):
		return fmt.Sprintf("the header %s does not begin with the prefix %q", r.header, r.prefix)
	case sum == nil:
		return fmt.Sprintf("the header %s holds no %s after the prefix %q: see prefix and coding",
			r.header, coding, r.prefix)
	case r.at && stamp == "":
		return listHeaders(c.Header)
	case r.at && at.IsZero():
		return fmt.Sprintf("the header %s is no time as time = %q has it%s", r.timeHeader, layoutName(r.layout),
			fits(r.layout, stamp, now, hmacLayouts, exactTime))
	case r.at && at.Sub(now).Abs() > tolerance:
		return fmt.Sprintf("the header %s is read as the time %s%s", r.timeHeader,
			at.UTC().Format("2006-01-02 15:04"), fits(r.layout, stamp, now, hmacLayouts, exactTime))
	default:
		return fmt.Sprintf("by signs, signed is %q; "+
			"is it the same at the network, with all line breaks, and the secret?", r.content(withoutValues(c), stamp))
	}
}

// withoutValues returns c with names in place of the query and the body, which may hold data of growers.
func withoutValues(c Signed) Signed {
	if c.Query != "" {
		c.Query = "{{.Query}}"
	}
	c.Body = []byte("{{.Body}}")
	return c
}

// ownHeaders returns the names of the headers in h, without those that most HTTP clients and servers set.
func ownHeaders(h http.Header) []string {
	usual := []string{"Accept", "Accept-Encoding", "Connection", "Content-Length", "Content-Type", "Date",
		"Transfer-Encoding", "User-Agent"}
	return slices.DeleteFunc(slices.Sorted(maps.Keys(h)), func(s string) bool { return slices.Contains(usual, s) })
}

func listHeaders(h http.Header) string {
	names := ownHeaders(h)
	if len(names) == 0 {
		return "the call has no header of its own"
	}
	return "the call has the headers " + strings.Join(names, ", ")
}

// ExplainTime says what is wrong with the time s of a call, or returns "" if it can be the time of a recorded call.
func (c Call) ExplainTime(s string, now time.Time) string {
	other := fits(c.layout, s, now, usualLayouts, parseTime)
	switch t := c.ParseTime(s); {
	case t.IsZero():
		return fmt.Sprintf("it is no time as time = %q has it%s", layoutName(c.layout), other)
	case t.Sub(now).Abs() > plausible && other != "":
		return fmt.Sprintf("it is read as %s%s", t.UTC().Format("2006-01-02 15:04"), other)
	}
	return ""
}

// plausible is how far from now the time of a recorded call may be: people keep recordings, for some years at most
// (judgement, no source).
const plausible = 10 * 365 * 24 * time.Hour

// usualLayouts are the layouts that ExplainTime tries.
var usualLayouts = append(slices.Clone(hmacLayouts), "2006-01-02 15:04:05", "2006-01-02T15:04:05")

// fits names the first other value of the setting time with which parse reads s as a time near now.
func fits(layout, s string, now time.Time, names []string, parse func(layout, s string) time.Time) string {
	for _, name := range names {
		other, err := newLayout(name)
		t := parse(other, s)
		if err == nil && other != layout && !t.IsZero() && t.Sub(now).Abs() < plausible {
			return fmt.Sprintf("; time = %q fits", name)
		}
	}
	return ""
}

// layoutName returns the setting time that means this layout.
func layoutName(layout string) string {
	if layout == time.RFC3339 {
		return layoutRFC3339
	}
	return layout
}

// LooksCoded returns the name of another coding in which the value of f probably is: ucs2-hex, if the value is UCS-2 in
// hexadecimal digits, with characters from U+0020 to U+0FFF and line breaks only. A value such as 0511 is a date that a
// grower typed, but 0031 is no date. "" means that the description may be right.
func (d *Document) LooksCoded(f Field) string {
	raw, err := d.raw(f)
	value, ok := raw.(string)
	if err != nil || !ok || f.coding == UCS2Hex || len(value)%4 != 0 || value == "" {
		return ""
	}
	if len(value) == 4 && strings.Trim(value, "0123456789") == "" && !strings.HasPrefix(value, "00") {
		return ""
	}
	for i := 0; i < len(value); i += 4 {
		unit, err := strconv.ParseUint(value[i:i+4], 16, 16)
		if err != nil || value[i] != '0' || unit < 0x20 && unit != '\n' && unit != '\r' {
			return ""
		}
	}
	return "ucs2-hex"
}
