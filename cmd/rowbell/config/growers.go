package config

import (
	"fmt"

	"rowbell/gateway"
	"rowbell/menu/answer"
	"rowbell/store/growercsv"
)

// GrowerRules returns how this service reads a file of growers: their numbers with the country code, names of plots as
// growers may type them, and the languages that growers can choose. A mistake in a language file is an error.
func (c *Config) GrowerRules() (growercsv.Rules, error) {
	cat, err := c.Texts.Catalogue()
	if err != nil {
		return growercsv.Rules{}, err
	}
	return growercsv.Rules{Languages: cat.Languages(), Phone: c.growerPhone, Label: plotName}, nil
}

func (c *Config) growerPhone(s string) (string, error) {
	p, err := gateway.ParsePhone(s, c.CountryCode)
	return p.E164(), err
}

func plotName(s string) (string, error) {
	name, refused := answer.Name(s)
	if refused != nil {
		return "", fmt.Errorf("a name has letters, digits and blanks, at most %d", answer.MaxName)
	}
	return name, nil
}
