package profile

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/netip"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Lookup finds a secret by the name of its environment variable. It fails for
// one that is not set.
type Lookup func(env string) (string, error)

// Build makes the network that is described. The error names the setting as
// rowbell.toml calls it, and repeats no secret and no address.
func (s Spec) Build(name string, secret Lookup) (Profile, error) {
	p, err := s.build(name, secret)
	return p, key("gateways."+name, err)
}

func (s Spec) build(name string, secret Lookup) (p Profile, err error) {
	p = Profile{Name: name, CountryCode: s.CountryCode, Sender: s.Sender, Limits: s.Limits}
	if s.speaksOurs() {
		p.USSD, p.SMS, p.Receipt = ourUSSD(), ourSMS(), ourReceipt()
	}
	p.Push = ourPush()
	if s.USSD != nil {
		if p.USSD, err = s.USSD.build(); err != nil {
			return p, key("ussd", err)
		}
	}
	if s.SMS != nil {
		if p.SMS, err = s.SMS.build(); err != nil {
			return p, key("sms", err)
		}
	}
	if s.Receipt != nil {
		if p.Receipt, err = s.Receipt.build(); err != nil {
			return p, key("receipt", err)
		}
	}
	if s.Push != nil {
		if p.Push, err = s.Push.build(secret); err != nil {
			return p, key("push", err)
		}
	}
	switch {
	case s.Trust != nil:
		if p.Trust, err = s.Trust.build(secret); err != nil {
			return p, key("trust", err)
		}
	case p.USSD.Method+p.SMS.Method+p.Receipt.Method != "":
		return p, errors.New("trust: say who may call, by signature, bearer, basic or address")
	}
	if err := p.signedWhole(); err != nil {
		return p, err
	}
	return p, p.validate()
}

// speaksOurs reports that its calls come in our own format: none is described,
// and it does call.
func (s Spec) speaksOurs() bool {
	return s.USSD == nil && s.SMS == nil && s.Receipt == nil && (s.Trust != nil || s.Push == nil)
}

// Sends reports that texts can go out by this network.
func (s Spec) Sends() bool { return s.Push != nil && s.Push.URL != "" }

// signedWhole refuses to trust a signature, which covers the body, with values
// that stand beside the body.
func (p Profile) signedWhole() error {
	if p.Trust == nil || !p.Trust.Signs() {
		return nil
	}
	u, m, r := p.USSD, p.SMS, p.Receipt
	for _, call := range []struct {
		name   string
		format Format
		fields []Field
	}{
		{"ussd", u.Format, []Field{u.Phone, u.Session, u.Dialled, u.Entry, u.Event, u.Step, u.ID}},
		{"sms", m.Format, []Field{m.ID, m.Phone, m.Text}},
		{"receipt", r.Format, []Field{r.ID, r.State, r.At, r.Reason}},
	} {
		beside := slices.ContainsFunc(call.fields, func(f Field) bool { return f.source != inBody })
		if call.format == Query || beside {
			return fmt.Errorf("%s: a signature covers the body only, and not all values are in it", call.name)
		}
	}
	return nil
}

func (s TrustSpec) build(secret Lookup) (*Trust, error) {
	t := &Trust{by: s.By, user: s.User, tolerance: time.Duration(s.Tolerance)}
	if t.tolerance == 0 {
		t.tolerance = defaultTolerance
	}
	if err := s.Tolerance.check(); err != nil {
		return nil, key("tolerance", err)
	}
	for _, from := range s.From {
		p, err := ParseNetwork(from)
		if err != nil {
			return nil, fmt.Errorf("from: %q: %w", from, err)
		}
		t.from = append(t.from, p)
	}
	switch s.By {
	case ByBearer, ByBasic, BySignature:
		if len(s.Secrets) == 0 {
			return nil, errors.New("secrets: name the environment variable that holds the secret")
		}
	case ByAddress:
		if len(t.from) == 0 {
			return nil, errors.New("from: say which addresses may call")
		}
		if slices.ContainsFunc(t.from, func(p netip.Prefix) bool { return p.Bits() == 0 }) {
			return nil, errors.New("from: that is everybody; say which addresses may call, or have calls signed")
		}
		if len(s.Secrets) > 0 {
			return nil, errors.New("secrets: none is asked for by address")
		}
	default:
		return nil, fmt.Errorf("by: %q is not one of signature, bearer, basic, address", s.By)
	}
	if (s.By == ByBasic) != (s.User != "") || strings.Contains(s.User, ":") {
		return nil, errors.New("user: basic has a user, without a colon, and nothing else has")
	}
	if s.Tolerance != 0 && s.By != BySignature {
		return nil, errors.New("tolerance: only a signature has a time")
	}
	if t.tolerance > maxTolerance {
		return nil, fmt.Errorf("tolerance: %s is longer than %s: a recorded call could be sent again when nothing is known of it any more", t.tolerance, maxTolerance)
	}
	for _, env := range s.Secrets {
		v, err := lookUp(secret, env)
		if err != nil {
			return nil, key("secrets", err)
		}
		t.hashes = append(t.hashes, HashToken(v))
		if s.By != BySignature {
			continue
		}
		k, err := signingKey(v)
		if err != nil {
			return nil, fmt.Errorf("secrets: %s: %w", env, err)
		}
		t.keys = append(t.keys, k)
	}
	return t, nil
}

var envName = regexp.MustCompile("^[A-Z_][A-Z0-9_]{0,127}$")

// lookUp finds a secret that is one.
func lookUp(secret Lookup, env string) (string, error) {
	if !envName.MatchString(env) { // most likely the secret itself: it is not repeated
		return "", errors.New("these are names of environment variables, such as HERON_SECRET; the secret itself stands in the environment")
	}
	v, err := secret(env)
	switch {
	case err != nil:
		return "", err
	case v == "" || strings.ContainsAny(v, "\r\n\x00"):
		return "", fmt.Errorf("%s is empty or holds a line break", env)
	}
	return v, nil
}

// builder makes the fields of one call and keeps the first mistake.
type builder struct {
	CallSpec
	call  Call
	fresh map[string]bool // the fields that there are
	err   error
}

func (c CallSpec) begin() *builder {
	b := &builder{CallSpec: c, fresh: map[string]bool{}}
	format, known := formats[c.Body]
	switch {
	case c.Body == "":
		b.err = errors.New("body: say how the values are written: form, query, json, xml or text")
	case !known:
		b.err = fmt.Errorf("body: %q is not one of form, query, json, xml, text", c.Body)
	}
	b.call.Format = format
	b.call.Method = c.Method
	if c.Method == "" {
		b.call.Method = http.MethodPost
	}
	switch b.call.Method {
	case http.MethodPost, http.MethodPut:
	case http.MethodGet:
		if format != Query {
			b.fail("body", errors.New(`with the method GET it is "query"`))
		}
	default:
		b.fail("method", fmt.Errorf("%q is not one of POST, GET, PUT", c.Method))
	}
	var err error
	b.call.Charset, err = newCharset(c.Charset)
	b.fail("charset", err)
	b.call.clock, err = newClock(c.Time)
	b.fail("time", err)
	return b
}

func (b *builder) fail(name string, err error) {
	if b.err == nil {
		b.err = key(name, err)
	}
}

// field is where a value stands; one that is needed must be described.
func (b *builder) field(name, at string, needed bool) Field {
	b.fresh[name] = true
	f, err := newField(b.call.Format, at)
	b.fail(name, err)
	if needed && at == "" {
		b.fail(name, errors.New("say where it stands"))
	}
	f.strip = b.Strip[name]
	// The longest first: a short prefix must not hide one that it begins.
	f.strip = slices.SortedFunc(slices.Values(f.strip), func(x, y string) int { return len(y) - len(x) })
	return f
}

// end checks what is left and makes the reply.
func (b *builder) end(carries bool) (Call, error) {
	for _, name := range slices.Sorted(maps.Keys(b.Strip)) {
		if !b.fresh[name] {
			b.fail("strip", fmt.Errorf("there is no field %s", name))
		}
		if slices.Contains(b.Strip[name], "") {
			b.fail("strip."+name, errors.New("nothing cannot be stripped"))
		}
	}
	if b.Reply != nil {
		var err error
		b.call.Reply, err = b.Reply.build(carries)
		b.fail("reply", err)
	}
	return b.call, b.err
}

// newClock reads the name of a layout, or a layout.
func newClock(s string) (string, error) {
	switch s {
	case "", "rfc3339":
		return time.RFC3339, nil
	case clockUnix, clockUnixMS:
		return s, nil
	}
	// A layout that drops the day tells no instant.
	at := time.Date(2027, 11, 23, 0, 0, 0, 0, time.UTC)
	got, err := time.Parse(s, at.Format(s))
	if err != nil || !got.Equal(at) {
		return "", errors.New("this is not rfc3339, unix, unix-ms or a layout of Go's such as 2006-01-02 15:04:05")
	}
	return s, nil
}

func (s ReplySpec) build(carries bool) (*Reply, error) {
	r := &Reply{status: s.Status}
	if s.Status == 0 {
		r.status = http.StatusOK
	}
	if r.status < 200 || r.status > 299 {
		return nil, fmt.Errorf("status: %d does not say that all is well, 200 to 299", s.Status)
	}
	var err error
	if r.headers, err = newHeaders(s.Headers); err != nil {
		return nil, err
	}
	if r.charset, err = newCharset(s.Charset); err != nil {
		return nil, key("charset", err)
	}
	if s.Body == "" {
		if carries {
			return nil, errors.New("body: without one there is no screen")
		}
		return r, r.try(false)
	}
	if r.kind, err = newKind(s.Type); err != nil {
		return nil, key("type", err)
	}
	r.media = r.kind.media(s.Type, r.charset)
	if r.body, err = newTemplate(s.Body); err != nil {
		return nil, key("body", err)
	}
	return r, r.try(carries)
}
