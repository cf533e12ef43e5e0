// Package limit bounds what one number, one network and the whole service may
// cost: calls, dialogues, texts and money.
package limit

// Set is one scope's limits: a number's, a network's or everybody's. 0 is no
// limit.
type Set struct {
	CallsAMinute int     `toml:"calls_a_minute"` // callbacks that come in
	OpenSessions int     `toml:"open_sessions"`  // USSD dialogues going on at once
	TextsADay    int     `toml:"texts_a_day"`    // texts that go out, by the day in UTC
	MoneyADay    float64 `toml:"money_a_day"`    // in the currency of the prices
	MoneyAMonth  float64 `toml:"money_a_month"`
}
