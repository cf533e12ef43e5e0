package main

import (
	"fmt"

	"rowbell/store"
)

// keepConfig is [keep]: for how many days what is over is kept. What is left
// out is store.DefaultKeep's.
type keepConfig struct {
	CallbacksDays  *int `toml:"callbacks_days"`
	LooseTextsDays *int `toml:"loose_texts_days"` // to phones without records
	TextsDays      *int `toml:"texts_days"`
	SeasonsDays    *int `toml:"seasons_days"` // closed plots; 0: for ever
	GrowersDays    *int `toml:"growers_days"` // not heard of; 0: for ever
}

func (c keepConfig) keep() store.Keep {
	k := store.DefaultKeep()
	return store.Keep{
		Callbacks:  or(c.CallbacksDays, k.Callbacks),
		LooseTexts: or(c.LooseTextsDays, k.LooseTexts),
		Texts:      or(c.TextsDays, k.Texts),
		Seasons:    or(c.SeasonsDays, k.Seasons),
		Growers:    or(c.GrowersDays, k.Growers),
	}
}

// validate names the first setting that cannot be used.
func (c keepConfig) validate() error {
	if err := c.keep().Validate(); err != nil {
		return fmt.Errorf("keep.%w", err)
	}
	return nil
}
