// Package limit bounds what one number, one network and the whole service may
// cost: calls, dialogues, texts and money.
package limit

import "fmt"

// Set is one scope's limits: a number's, a network's or everybody's. 0 is no
// limit.
type Set struct {
	CallsAMinute int     `toml:"calls_a_minute"` // callbacks that come in
	OpenSessions int     `toml:"open_sessions"`  // USSD dialogues going on at once
	TextsADay    int     `toml:"texts_a_day"`    // texts that go out, by the day in UTC
	MoneyADay    float64 `toml:"money_a_day"`    // in the currency of the prices
	MoneyAMonth  float64 `toml:"money_a_month"`
}

// MaxSessions is how many open sessions can be counted.
const MaxSessions = 1 << 16

// mostMoney still fits in millionths.
const mostMoney = 1e12

// Validate names the first limit that cannot be used, by its key.
func (s Set) Validate() error {
	for _, v := range []struct {
		key string
		n   int
	}{{"calls_a_minute", s.CallsAMinute}, {"open_sessions", s.OpenSessions}, {"texts_a_day", s.TextsADay}} {
		if v.n < 0 {
			return fmt.Errorf("%s: %d is below 0; 0 is no limit", v.key, v.n)
		}
	}
	if s.OpenSessions > MaxSessions {
		return fmt.Errorf("open_sessions: %d is more than can be counted, %d; 0 is no limit", s.OpenSessions, MaxSessions)
	}
	for _, v := range []struct {
		key string
		x   float64
	}{{"money_a_day", s.MoneyADay}, {"money_a_month", s.MoneyAMonth}} {
		if !(v.x >= 0 && v.x <= mostMoney) { // not a number neither
			return fmt.Errorf("%s: %g is not in 0..%g; 0 is no limit", v.key, v.x, mostMoney)
		}
	}
	return nil
}
