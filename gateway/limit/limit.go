// Package limit is the rate limiter: it counts the calls and the open USSD sessions of one number, one
// network and the whole service, and defines the configured limits of texts and money as values.
//
// The package uses neither HTTP nor the records. The store counts texts and money, in the transaction that
// claims a text for sending.
package limit

import "rowbell/gateway/fault"

// Set contains the limits of one scope: a number, a network or the whole service. The value 0 means no limit.
type Set struct {
	CallsAMinute int     `toml:"calls_a_minute"` // callbacks received in a minute
	OpenSessions int     `toml:"open_sessions"`  // USSD sessions open at the same time
	TextsADay    int     `toml:"texts_a_day"`    // texts sent in a day (UTC)
	MoneyADay    float64 `toml:"money_a_day"`    // in the currency unit of the prices
	MoneyAMonth  float64 `toml:"money_a_month"`
}

// MaxSessions is the largest number of open sessions that a Gate counts, so that its memory is bounded. A limit of open
// sessions must not be larger.
const MaxSessions = 1 << 16

// maxMoney bounds an amount of money, so that its millionths fit into an int64.
const maxMoney = 1e12

// Validate returns the unusable limits by their keys.
func (s Set) Validate() error {
	var m fault.List
	for _, v := range []struct {
		key string
		n   int
	}{{"calls_a_minute", s.CallsAMinute}, {"open_sessions", s.OpenSessions}, {"texts_a_day", s.TextsADay}} {
		m.Refuse(v.n < 0, v.key, "%d is below 0; 0 is no limit", v.n)
	}
	m.Refuse(s.OpenSessions > MaxSessions, "open_sessions",
		"%d is more than can be counted, %d; 0 is no limit", s.OpenSessions, MaxSessions)
	for _, v := range []struct {
		key string
		x   float64
	}{{"money_a_day", s.MoneyADay}, {"money_a_month", s.MoneyAMonth}} {
		m.Refuse(!(v.x >= 0 && v.x <= maxMoney), // the negated form is also true for NaN
			v.key, "%g is not in 0..%g; 0 is no limit", v.x, maxMoney)
	}
	return m.Err()
}
