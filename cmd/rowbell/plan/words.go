package plan

import (
	"fmt"
	"math"
	"strings"

	"rowbell/engine"
)

// RiskNote is shown with every estimate of harvest loss.
const RiskNote = "a range from other fields, no promise"

// Date formats a day for a sentence: Wed 25 Nov 2026.
func Date(d engine.Day) string {
	y, _, _ := d.Date()
	return fmt.Sprintf("%s %d", ShortDate(d), y)
}

// ShortDate formats a day for a table column: Wed 25 Nov.
func ShortDate(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%s %d %s", d.Weekday().String()[:3], day, m.String()[:3])
}

// Count formats a number with its singular or plural: "1 day", "3 days".
func Count[T int | int64](n T, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// Figures formats a number: two significant digits below 10, otherwise no decimals.
func Figures(x float64) string {
	if math.Abs(x) >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.2g", x)
}

// Depth formats a depth of water: half centimetres below 2 cm, otherwise whole ones.
func Depth(mm float64) string {
	cm := mm / 10
	if cm < 2 {
		return fmt.Sprintf("%g cm", math.Round(2*cm)/2)
	}
	return fmt.Sprintf("%.0f cm", cm)
}

// Percents formats a range of percentages without decimals: "10 to 25%", or "10%" if both ends are equal.
func Percents(low, high float64) string {
	if math.Round(low) == math.Round(high) {
		return fmt.Sprintf("%.0f%%", high)
	}
	return fmt.Sprintf("%.0f to %.0f%%", low, high)
}

// Money formats an amount: two decimals below 100, otherwise none.
func Money(x float64) string {
	if x < 100 {
		return strings.TrimSuffix(fmt.Sprintf("%.2f", x), ".00")
	}
	return fmt.Sprintf("%.0f", x)
}

// InCurrency returns the text after an amount, such as ", GBP"; "" for an unknown currency.
func InCurrency(currency string) string {
	if currency == "" {
		return ""
	}
	return ", " + currency
}

// Round rounds to three decimals, the precision of all numbers in the JSON.
func Round(x float64) float64 { return math.Round(x*1000) / 1000 }

// MeasuredDays says for which days measured weather is known, and how many of them lack a value.
func MeasuredDays(y engine.Daily) string {
	noTemperature, noRain := 0, 0
	for _, d := range y.Days {
		if !d.HasTemperature() {
			noTemperature++
		}
		if !d.HasRain() {
			noRain++
		}
	}
	words := fmt.Sprintf("%s to %s, %s", Date(y.From), Date(y.From+engine.Day(len(y.Days))-1),
		Count(len(y.Days), "day", "days"))
	if noTemperature == 0 && noRain == 0 {
		return words + " without a gap"
	}
	return words + fmt.Sprintf("; without temperatures %d, without rain %d: the year stands for those",
		noTemperature, noRain)
}

// hoursWords formats a length of work: 40 minutes, 3.5 hours, 12 hours.
func hoursWords(h float64) string {
	if h < 1 {
		return fmt.Sprintf("%.0f minutes", h*60)
	}
	if h >= 10 {
		return fmt.Sprintf("%.0f hours", h)
	}
	return fmt.Sprintf("%.1f hours", h)
}

// rangeWords formats hours with the range for a pace: 3.5 hours (1.8 to 6.6).
func rangeWords(h float64, p engine.Pace) string {
	low, high := p.Around(h)
	if h < 1 {
		return fmt.Sprintf("%s (%.0f to %.0f)", hoursWords(h), low*60, high*60)
	}
	return fmt.Sprintf("%s (%s to %s)", hoursWords(h), Figures(low), Figures(high))
}

// roundsWords formats a number of weedings by hand: 2 to 3 times.
func roundsWords(low, high float64) string {
	if low == high {
		return fmt.Sprintf("%.2g times", low)
	}
	return fmt.Sprintf("%.2g to %.2g times", low, high)
}

// aboutMoney formats an amount of money with three significant digits.
func aboutMoney(x float64) string { return Money(significant(x, 3)) }

// significant rounds x to the given number of significant digits (figures). It returns 0 if x is 0 or negative.
func significant(x float64, figures int) float64 {
	if x <= 0 {
		return 0
	}
	unit := math.Pow10(int(math.Floor(math.Log10(x))) + 1 - figures)
	return math.Round(x/unit) * unit
}

// moneyRange formats two amounts with three significant figures.
func moneyRange(low, high float64) string {
	if a, b := aboutMoney(low), aboutMoney(high); a != b {
		return a + " to " + b
	}
	return aboutMoney(low)
}

// ground formats an area: square metres below one hectare, otherwise hectares.
func ground(ha float64) string {
	if ha < 1 {
		return Figures(significant(1e4*ha, 2)) + " m2"
	}
	return Figures(ha) + " ha"
}
