package menu

import (
	"math"
	"regexp"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Two more refusals:
//
//	refuse.price                 read       not one amount of money, or it could be two
//	refuse.price-range           price to   more than is believed

// Money as typed. It has no thousandths, so three digits after a mark are
// thousands, and one or two are what is left of a whole.
var (
	plainMoney = regexp.MustCompile(`^\d{1,10}(?:[.,]\d{1,2})?$`)
	// 1,234,567.50 and the same with the marks of other countries.
	groupedMoney = []*regexp.Regexp{
		regexp.MustCompile(`^[1-9]\d{0,2}(?:,\d{3}){1,3}(?:\.\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d{0,2}(?:\.\d{3}){1,3}(?:,\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d{0,2}(?: \d{3}){1,3}(?:[.,]\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d{0,2}(?:'\d{3}){1,3}(?:[.,]\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d?(?:,\d{2}){1,4},\d{3}(?:\.\d{1,2})?$`), // 1,20,000
	}
	thousandMoney = regexp.MustCompile(`^(\d{1,7}(?:[.,]\d{1,2})?) ?k$`)

	moneyMarks = strings.NewReplacer("٬", ",", "’", "'")
	moneyTails = []string{"/-", "/="} // "and nothing more", as on hand-written bills
)

// parsePrice reads an amount of money in the place's currency: 1200, 1,200.50,
// 1.200,50, 1 200, 1,20,000, 1.5k, Tk 1200, 1200/-. What could be two amounts
// is refused: 0.200, 1234,567, 1,200k; 12k where the money itself begins with
// a K. It is within what the engine believes, to two decimals; 0 is an answer
// too.
func parsePrice(s, currency string) (float64, *Refusal) {
	x, ok := readPrice(moneyMarks.Replace(clean(s)), clean(currency))
	if !ok {
		return 0, refuse("refuse.price", s, nil)
	}
	if x > engine.MaxPrice {
		return 0, &Refusal{Key: "refuse.price-range", Args: text.Args{"price": written(x), "to": whole(engine.MaxPrice)}}
	}
	return x, nil
}

func readPrice(s, currency string) (float64, bool) {
	if f := thousandMoney.FindStringSubmatch(s); f != nil {
		return math.Round(1000 * amount(f[1])), !strings.HasPrefix(currency, "k")
	}
	for _, tail := range moneyTails {
		s = strings.TrimSpace(strings.TrimSuffix(s, tail))
	}
	if currency != "" && !strings.ContainsAny(currency, "0123456789") {
		if rest, ok := strings.CutPrefix(s, currency); ok {
			s = strings.TrimLeft(rest, ". ")
		} else {
			s = strings.TrimSpace(strings.TrimSuffix(s, currency))
		}
	}
	if plainMoney.MatchString(s) {
		return cents(amount(s)), true
	}
	for _, form := range groupedMoney {
		if form.MatchString(s) {
			return cents(ungrouped(s)), true
		}
	}
	return 0, false
}

// ungrouped is the value of an amount that is written in groups: what follows
// its last mark is decimals if it has fewer than three digits.
func ungrouped(s string) float64 {
	digits := strings.NewReplacer(",", "", ".", "", " ", "", "'", "").Replace(s)
	decimals := 0
	if after := len(s) - 1 - strings.LastIndexAny(s, ",. '"); after <= 2 {
		decimals = after
	}
	return amount(digits) / math.Pow10(decimals)
}

// cents rounds to two decimals.
func cents(x float64) float64 { return math.Round(x*100) / 100 }

// written is a price as it was told: two decimals at most.
func written(x float64) text.Decimal { return text.Decimal{Value: cents(x), Places: 2} }

// estimated is a reckoned amount: three digits that count, whole from 10 on.
func estimated(x float64) text.Decimal {
	switch {
	case x < 1:
		return written(x)
	case x < 10:
		return number(x)
	}
	unit := math.Pow10(max(0, int(math.Floor(math.Log10(x)))-2))
	return whole(math.Round(x/unit) * unit)
}
