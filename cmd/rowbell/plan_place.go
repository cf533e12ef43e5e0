package main

import (
	"fmt"
	"strings"

	"rowbell/engine"
)

// planPriceSlots are the prices that --price knows, and where each goes.
var planPriceSlots = []struct {
	name string
	of   func(*engine.Prices) *float64
}{
	{"tool", func(p *engine.Prices) *float64 { return &p.Tool }},
	{"salvage", func(p *engine.Prices) *float64 { return &p.ToolSalvage }},
	{"years", func(p *engine.Prices) *float64 { return &p.ToolYears }},
	{planInterest, func(p *engine.Prices) *float64 { return &p.InterestYear }},
	{"hire-day", func(p *engine.Prices) *float64 { return &p.HireDay }},
	{"service-ha", func(p *engine.Prices) *float64 { return &p.ServiceHa }},
	{"labour-day", func(p *engine.Prices) *float64 { return &p.LabourDay }},
	{"family-day", func(p *engine.Prices) *float64 { return &p.FamilyDay }},
	{"seasons-year", func(p *engine.Prices) *float64 { return &p.SeasonsYear }},
}

// planInterest is the one price that is a share.
const planInterest = "interest"

func planPriceNames() []string {
	var names []string
	for _, slot := range planPriceSlots {
		names = append(names, slot.name)
	}
	return names
}

// planPrice reads "tool=900" or "interest=12%" into the prices, and returns
// the name.
func planPrice(text string, p *engine.Prices) (string, error) {
	name, amount, ok := strings.Cut(text, "=")
	if !ok {
		return "", fmt.Errorf("--price %q: write name and amount as in tool=900", text)
	}
	for _, slot := range planPriceSlots {
		if slot.name != name {
			continue
		}
		number, percent := strings.CutSuffix(amount, "%")
		v, err := planNumber(number)
		switch {
		case err != nil:
			return "", fmt.Errorf("--price %q: %q is not an amount; write it as in %s=%s", text, amount, name, planPriceLike(name))
		case percent != (name == planInterest):
			return "", fmt.Errorf("--price %q: only interest is told in percent a year, as in interest=12%%", text)
		case percent:
			v /= 100
		case v == 0:
			return "", fmt.Errorf("--price %q: leave it out where it is not known", text)
		}
		*slot.of(p) = v
		return name, nil
	}
	return "", fmt.Errorf("--price %q: %q is none of %s", text, name, strings.Join(planPriceNames(), ", "))
}

func planPriceLike(name string) string {
	if name == planInterest {
		return "12%"
	}
	return "900"
}

// planFigure reads "HandHoursPerHa=260" into the figures, and returns the
// name.
func planFigure(text string, f *engine.Figures) (string, error) {
	name, value, ok := strings.Cut(text, "=")
	v, err := planNumber(value)
	if !ok || err != nil {
		return "", fmt.Errorf("--figure %q: write name and value as in HandHoursPerHa=260", text)
	}
	if _, known := f.Get(name); !known {
		return "", fmt.Errorf("--figure %q: no figure called %q can be set; rowbell sources lists those that can", text, name)
	}
	if err := f.Set(name, v); err != nil {
		return "", fmt.Errorf("--figure: %w", planRefusal(err))
	}
	return name, nil
}
