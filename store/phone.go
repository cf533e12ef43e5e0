package store

// Phone is a phone number in E.164 form, with the plus sign. When a Phone is printed, the middle of the number is
// masked, whatever format is used. Only the method E164 returns the whole number.
type Phone string

// E164 returns the whole number.
func (p Phone) E164() string { return string(p) }

// String returns the number without its middle digits, such as +4477…123.
func (p Phone) String() string {
	const head, tail = 5, 3
	if len(p) < head+tail+3 {
		return "…" // the number is too short to show any digits
	}
	return string(p[:head]) + "…" + string(p[len(p)-tail:])
}

// GoString masks the number in the same way as String.
func (p Phone) GoString() string { return p.String() }

// MarshalText masks the number in the same way as String, so that a log or a page cannot show a whole number by
// accident.
func (p Phone) MarshalText() ([]byte, error) { return []byte(p.String()), nil }
