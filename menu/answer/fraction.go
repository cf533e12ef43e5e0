package answer

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"rowbell/menu/text"
)

// fractionSigns are the single characters for fractions.
var fractionSigns = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅓", " 1/3", "⅔", " 2/3", "⁄", "/")

// fractionWords are the words for fractions in six languages. The key is the form in digits.
var fractionWords = func() map[string]string {
	words := map[string]string{}
	for number, list := range map[string]string{
		"1/2": "half demi demie moitié nusu आधा आधी आधे meio meia metade setengah separuh",
		"1/4": "quarter quart robo चौथाई seperempat",
		"3/4": "पौन पौना पौने",
		"1.5": "डेढ़", "2.5": "ढाई", halfMoreMark: "साढ़े", // साढ़े 3 is 3 and a half
	} {
		for w := range strings.FieldsSeq(list) {
			words[text.Fold(w)] = number
		}
	}
	return words
}()

// halfMoreMark stands for a word that adds a half to the number after it. No phone types this character.
const halfMoreMark = "\x01"

const article = `(?:an?|une?|uma?) `

var (
	halfMore      = regexp.MustCompile(halfMoreMark + ` ?(\d+)`)
	articleBefore = regexp.MustCompile(`^` + article + `(\d/\d)`)
	articleAfter  = regexp.MustCompile(`(\d/\d)(?: (?:of|de)| d')? ` + article)
	mixedForm     = regexp.MustCompile(`(\d+) (?:(?:and|et|na|e|dan|` + text.Fold("और") + `) )?(?:` + article +
		`)?(\d)/(\d)(?:$|[ -])`)
	fractionUnit  = regexp.MustCompile(`^(\d)/(\d)[ -]?(\pL)`)               // 1/2 acre, 1/2-heure
	unitFraction  = regexp.MustCompile(`^([\pL\pM]+) (\d)/(\d)$`)            // ekari 1/2
	fractionAfter = regexp.MustCompile(`^(\d+) ?(\pL+) (?:and )?(\d)/(\d)$`) // 2 h and 1/2
	fractionOnly  = regexp.MustCompile(`^(\d)/(\d)$`)
)

// inFractions cleans an entry and writes its fractions as decimals, if it is clear that they are fractions: half an
// acre, 1/2 acre, 1½, 2 heures et demie. Two numbers with a stroke between them and no unit (20/30, 1/2) stay as they
// are, because they may be two lengths. mixed reports whether a whole number with a fraction was found: 1 1/2.
func inFractions(s string) (entry string, mixed bool) {
	s = text.Fold(Clean(fractionSigns.Replace(s)))
	s = unitWord.ReplaceAllStringFunc(s, func(w string) string {
		if number, ok := fractionWords[w]; ok {
			return number
		}
		return w
	})
	s = halfMore.ReplaceAllString(s, "$1 1/2")
	s = articleBefore.ReplaceAllString(s, "$1")
	s = articleAfter.ReplaceAllString(s, "$1 ")
	if f := mixedForm.FindStringSubmatchIndex(s); f != nil {
		whole, tail := s[f[2]:f[3]], s[f[7]:]
		if part := fraction(s[f[4]:f[5]], s[f[6]:f[7]]); part > 0 {
			s, mixed = s[:f[2]]+decimal(amount(whole)+part)+tail, true
		}
	}
	if f := fractionUnit.FindStringSubmatch(s); f != nil {
		if part := fraction(f[1], f[2]); part > 0 {
			s = decimal(part) + " " + f[3] + s[len(f[0]):]
		}
	}
	if f := unitFraction.FindStringSubmatch(s); f != nil {
		if part := fraction(f[2], f[3]); part > 0 {
			s = f[1] + " " + decimal(part)
		}
	}
	return s, mixed
}

// withFractions is inUnits for an entry that may have fractions. It also reads a fraction after the unit: 2 h and 1/2.
func withFractions(s string) (entry string, mixed bool) {
	s, mixed = inFractions(s)
	s = inUnits(s)
	if f := fractionAfter.FindStringSubmatch(s); f != nil {
		if part := fraction(f[3], f[4]); part > 0 {
			s = decimal(amount(f[1])+part) + " " + f[2]
		}
	}
	return s, mixed
}

// fraction returns the value of a fraction that growers use: halves, thirds, quarters, fifths, eighths. fraction
// returns
// 0 for any other two digits.
func fraction(over, under string) float64 {
	a, b := amount(over), amount(under)
	if a < 1 || a >= b || !strings.Contains("23458", under) {
		return 0
	}
	return a / b
}

// decimal writes a number with at most three decimals, as numberForm reads it.
func decimal(x float64) string { return strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64) }
