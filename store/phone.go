package store

// Phone is a phone number in E.164 form with its plus sign. It prints masked in every format: only E164
// returns the whole number.
type Phone string

// E164 returns the whole number.
func (p Phone) E164() string { return string(p) }

// String returns the number with its middle left out: +4477…123.
func (p Phone) String() string {
	const head, tail = 5, 3
	if len(p) < head+tail+3 {
		return "…" // too short to mask
	}
	return string(p[:head]) + "…" + string(p[len(p)-tail:])
}

// GoString masks as String does.
func (p Phone) GoString() string { return p.String() }

// MarshalText masks as String does, so that a log or a page cannot show a number by accident.
func (p Phone) MarshalText() ([]byte, error) { return []byte(p.String()), nil }
