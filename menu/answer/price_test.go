package answer

import (
	"strings"
	"testing"

	"rowbell/engine"
)

func TestParsePrice(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"1200", "1200"}, {" 1200. ", "1200"}, {"0012", "12"}, {"000", "0"}, {"0.0", "0"}, {"0.35", "0.35"},
		{"5", "5"}, {"১২০০", "1200"}, {"１２００", "1200"}, {"12.5", "12.5"}, {"12,50", "12.5"}, {"1,2", "1.2"},
		{"1200.50", "1200.5"}, {"1200,5", "1200.5"},
		// Money has no thousandths, so three digits after a separator are thousands.
		{"1,200", "1200"}, {"1.200", "1200"}, {"1 200", "1200"}, {"1'200", "1200"}, {"1’200", "1200"},
		{"1\u00a0200", "1200"}, {"١٬٢٠٠", "1200"}, {"12 345 678", "12345678"}, {"1,200.50", "1200.5"},
		{"1.200,50", "1200.5"}, {"1 200,50", "1200.5"}, {"1 200.5", "1200.5"}, {"1,234,567", "1234567"},
		{"1.234.567", "1234567"}, {"1'234'567", "1234567"},
		{"1,20,000", "120000"}, {"12,34,567.89", "1234567.89"}, {"12k", "12000"}, {"12 K", "12000"}, {"1.5k", "1500"},
		{"1,25k", "1250"}, {"Tk 1200", "1200"}, {"tk1,200", "1200"}, {"Tk. 1200", "1200"}, {"1200 tk", "1200"},
		{"1200tk", "1200"}, {"1200/-", "1200"}, {"Tk 1200/=", "1200"}, {"(1200)", "1200"},
		{"1000000000", "1000000000"}, {"", "refuse.empty"}, {"  ", "refuse.empty"},
		// Each of these entries must be refused, because it can mean two amounts or no amount.
		{"0.200", "refuse.price"}, {"0,200", "refuse.price"}, {"1234,567", "refuse.price"},
		{"1234.567", "refuse.price"}, {"1,200.500", "refuse.price"}, {"1,200k", "refuse.price"},
		{"1.2345", "refuse.price"}, {"1,20,00", "refuse.price"}, {"12,345,6", "refuse.price"},
		{"1,200 300", "refuse.price"}, {"1.200.50", "refuse.price"}, {"1 20", "refuse.price"},
		{"12 1200", "refuse.price"}, {"01,200", "refuse.price"}, {"1 2000", "refuse.price"}, {"2m", "refuse.price"},
		{"10-15", "refuse.price"}, {"10 to 15", "refuse.price"}, {"1/2", "refuse.price"}, {"20*30", "refuse.price"},
		{"-5", "refuse.price"}, {"1e3", "refuse.price"}, {".50", "refuse.price"}, {"usd 12", "refuse.price"},
		{"$12", "refuse.price"}, {"much", "refuse.price"}, {"Tk", "refuse.price"}, {"k", "refuse.price"},
		{"1200 tk tk", "refuse.price"}, {"\x00", "refuse.price"}, {"99999999999", "refuse.price"},
		{"1000000001", "refuse.price-range"}, {"9999999k", "refuse.price-range"},
		{"999,999,999,999", "refuse.price-range"}, {"9,999,999,999,999", "refuse.price"},
	} {
		x, r := Price(c.in, "Tk")
		wantRead(t, c.in, hundredths(x), r, c.want)
	}
}

// TestParsePriceInMoneyOfK checks a currency whose name begins with K: a k after a number is refused, because the k may
// mean the currency or a thousand.
func TestParsePriceInMoneyOfK(t *testing.T) {
	for _, c := range []struct{ currency, in, want string }{
		{"K", "12k", "refuse.price"}, {"Ks", "12 k", "refuse.price"}, {"Kz", "1.5K", "refuse.price"},
		{"K", "K12", "12"}, {"K", "K 1,200", "1200"}, {"Ks", "1200 Ks", "1200"}, {"Ks", "1200", "1200"},
		{"Rs.", "Rs. 1,20,000", "120000"}, {"Rs.", "rs 12k", "refuse.price"}, {"$", "$12.50", "12.5"},
		{"", "1200", "1200"}, {"", "Tk 1200", "refuse.price"},
	} {
		x, r := Price(c.in, c.currency)
		wantRead(t, c.in, hundredths(x), r, c.want)
	}
}

func FuzzParsePrice(f *testing.F) {
	seed(f, "price", "Tk", "K")
	f.Fuzz(func(t *testing.T, s, currency string) {
		x, r := Price(s, currency)
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		if !(x >= 0 && x <= engine.MaxPrice) || x != cents(x) {
			t.Fatalf("%q is %g", s, x)
		}
		if again, r := Price(hundredths(x), currency); r != nil || again != x {
			t.Fatalf("%q is %g, and that read back %g, %v", s, x, again, r)
		}
		if !strings.ContainsAny(foldDigits(s), "0123456789") {
			t.Fatalf("%q has no digit and is %g", s, x)
		}
		readBack(t, "price", s)
	})
}
