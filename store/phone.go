package store

// Phone is a phone number in E.164 form with its plus sign. It prints masked;
// only E164 gives the number away.
type Phone string

// E164 is the whole number.
func (p Phone) E164() string { return string(p) }

// String is the number with its middle left out: +4477…123.
func (p Phone) String() string {
	const head, tail = 5, 3
	if len(p) < head+tail+3 {
		return "…" // too short to hide anything in
	}
	return string(p[:head]) + "…" + string(p[len(p)-tail:])
}

// GoString is masked too.
func (p Phone) GoString() string { return p.String() }

// MarshalText is masked too, so that a log or a page that forgets shows nothing.
func (p Phone) MarshalText() ([]byte, error) { return []byte(p.String()), nil }
