package answer

import (
	"math"
	"regexp"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// These expressions match an amount of money. Money has no thousandths, so three digits after a comma or point are a
// group of thousands, and one or two digits are decimals.
var (
	plainMoney   = regexp.MustCompile(`^\d{1,10}(?:[.,]\d{1,2})?$`)
	groupedMoney = []*regexp.Regexp{
		regexp.MustCompile(`^[1-9]\d{0,2}(?:,\d{3}){1,3}(?:\.\d{1,2})?$`), // matches 1,234,567.50
		regexp.MustCompile(`^[1-9]\d{0,2}(?:\.\d{3}){1,3}(?:,\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d{0,2}(?: \d{3}){1,3}(?:[.,]\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d{0,2}(?:'\d{3}){1,3}(?:[.,]\d{1,2})?$`),
		regexp.MustCompile(`^[1-9]\d?(?:,\d{2}){1,4},\d{3}(?:\.\d{1,2})?$`), // matches 1,20,000, as in India
	}
	thousandMoney = regexp.MustCompile(`^(\d{1,7}(?:[.,]\d{1,2})?) ?k$`)

	moneyMarks = strings.NewReplacer("٬", ",", "’", "'")
	moneyTails = []string{"/-", "/="} // signs after an amount on hand-written bills: nothing more is due
)

// Price reads an amount of money in the currency: 1200, 1,200.50, 1.200,50, 1 200, 1,20,000, 1.5k, Tk 1200, 1200/-. An
// entry that may mean two amounts is refused: 0.200, 1234,567, 1,200k. If the name of the currency begins with K, 12k
// is refused too, because k may mean the currency or a thousand. The amount is from 0 to engine.MaxPrice, with two
// decimals.
func Price(s, currency string) (float64, *Refusal) {
	x, ok := readPrice(moneyMarks.Replace(Clean(s)), Clean(currency))
	if !ok {
		return 0, Refuse("refuse.price", s, nil)
	}
	if x > engine.MaxPrice {
		return 0, &Refusal{Key: "refuse.price-range", Args: text.Args{
			"price": text.Decimal{Value: x, Places: 2}, "to": text.Decimal{Value: engine.MaxPrice}}}
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

// ungrouped returns the value of an amount with separators between groups of digits. If one or two digits follow the
// last separator, they are decimals.
func ungrouped(s string) float64 {
	digits := strings.NewReplacer(",", "", ".", "", " ", "", "'", "").Replace(s)
	decimals := 0
	if after := len(s) - 1 - strings.LastIndexAny(s, ",. '"); after <= 2 {
		decimals = after
	}
	return amount(digits) / math.Pow10(decimals)
}

// cents rounds an amount of money to two decimals, the most that are stored.
func cents(x float64) float64 { return math.Round(x*100) / 100 }
