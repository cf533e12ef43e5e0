// Package meter counts what an operator watches, for /metrics. No number, no
// text and no secret is ever a label. A nil *Meter counts nothing.
package meter

import "time"

// Meter is what is counted.
type Meter struct{}

// Callback counts a call that came in: its network, its kind (ussd, sms,
// receipt), how it ended (ok, repeat, refused, denied, limited, failed), and
// how long it took.
func (m *Meter) Callback(gateway, kind, outcome string, took time.Duration) {}

// Limited counts what a limit held back: whose limit (number, gateway, all)
// and which (calls, sessions, texts, money-day, money-month, switch).
func (m *Meter) Limited(gateway, scope, limit string) {}

// Pushed counts one try to send a text: its network and how it ended (taken,
// again, never, number, unsure).
func (m *Meter) Pushed(gateway, outcome string, took time.Duration) {}

// Breaker tells whether a network is left alone for now.
func (m *Meter) Breaker(gateway string, open bool) {}

// Receipt counts a receipt: its network, what it said, and what became of it
// (noted, stray, late).
func (m *Meter) Receipt(gateway, state, outcome string) {}

// Bell tells how late the plot that waits longest is looked at.
func (m *Meter) Bell(lag time.Duration) {}
