package main

import "rowbell/gateway/limit"

// limitsConfig bounds what everybody together may cost, and what one number
// may. Those of one network stand with it.
type limitsConfig struct {
	limit.Set
	Number   limit.Set `toml:"number"`
	Currency string    `toml:"currency"` // of all money here
}
