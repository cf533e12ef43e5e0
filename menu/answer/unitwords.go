package answer

import (
	"regexp"
	"strings"

	"rowbell/menu/text"
)

// unitSigns has the words that growers type in six languages for units (centimetre), and for the small words between
// two numbers (20 by 30). The key is the short sign that replaces these words.
var unitSigns = map[string]string{
	"cm": "cms centimetre centimetres centimeter centimeters centimètre centimètres sm sentimita sentimeta " +
		"सेमी सेंटीमीटर सेंटिमीटर centímetro centímetros sentimeter senti",
	"mm": "millimetre millimetres millimeter millimeters millimètre millimètres milimita मिमी मिलीमीटर " +
		"milímetro milímetros milimeter mili",
	"m":    "metre metres meter meters mtr mtrs mètre mètres mita मी मीटर metro metros",
	"m2":   "sqm वर्गमी वर्गमीटर",
	"sq":   "square carré carrés mraba वर्ग quadrado quadrados persegi",
	"in":   "inch inches pouce pouces inchi इंच polegada polegadas inci",
	"ft":   "foot feet pied pieds futi फुट फीट pé pés kaki",
	"are":  "ares",
	"acre": "acres ekari eka एकड़ एकर ekad",
	"ha":   "hectare hectares hektari hekta हेक्टेयर हेक्टर hektar hektare",
	"st":   "step steps pas hatua कदम passo passos langkah",
	"h": "hr hrs hour hours heure heures saa masaa घंटा घंटे घंटों घंटो ghanta ghante " +
		"ghanton hora horas jam",
	"min": "mins minute minutes dakika dk मिनट minuto minutos menit",
	"wk":  "week weeks semaine semaines wiki majuma हफ्ता हफ्ते सप्ताह hafte semana semanas minggu pekan",
	"mo":  "month months mois mwezi miezi महीना महीने माह mahine mês mes meses bulan",
	"d":   "day days jour jours siku दिन दिनों din dia dias hari",
	"p": "people person persons personne personnes gens watu mtu लोग लोगों आदमी व्यक्ति जन log logon " +
		"pessoa pessoas orang",
	"l":   "litre litres liter liters lita लीटर litro litros",
	"s":   "sec secs second seconds seconde secondes sekunde सेकंड सेकेंड segundo segundos detik",
	"bag": "bags sac sacs gunia magunia बोरी बोरियां बोरा बोरे saco sacos karung",

	"by":  "par sur kwa mara गुणा बाई por kali",
	"to":  "à hadi mpaka से a até ate sampai hingga",
	"and": "et na और e dan",
	"or":  "ou au या atau",
}

// signOf maps every word of unitSigns to its sign, and each sign to itself. The words are folded by text.Fold.
var signOf = func() map[string]string {
	signs := map[string]string{}
	for sign, words := range unitSigns {
		signs[sign] = sign
		for w := range strings.FieldsSeq(words) {
			signs[text.Fold(w)] = sign
		}
	}
	return signs
}()

// joins has the signs for small words between two numbers (20 by 30, 10 to 15). These words are so short (à, e) that
// inUnits replaces them only if there is a space before and after the word.
var joins = map[string]bool{"by": true, "to": true, "and": true, "or": true}

var (
	unitWord = regexp.MustCompile(`[\pL\pM]+(?:\.[\pL\pM]+)*\.?`)
	// unitPairs replaces a unit that is written as two words by its sign.
	unitPairs  = strings.NewReplacer(text.Fold("से मी"), "cm", text.Fold("से. मी"), "cm", text.Fold("मि मी"), "mm")
	squareForm = regexp.MustCompile(`\b(?:sq ?m|m(?: za)? sq)\b`)
	// unitFirst matches a unit that is typed before its number: saa 3, cm 20, watu 2.
	unitFirst = regexp.MustCompile(`\b(?:(cm|mm|min|ha|bag|acre|are) ?|(m|m2|h|d|p|l|s|st|in|ft) )` + numberForm)
	// quoteInches and quoteFeet match the signs for inches and feet after a number: 8", 5'4.
	quoteInches = regexp.MustCompile(`(\d) ?(?:["”″]|''|’’)`)
	quoteFeet   = regexp.MustCompile(`(\d) ?['’′]`)
)

// inUnits cleans an entry, replaces the words for units by their signs, and moves each sign after its number. "3
// heures" and "saa 3" become "3 h"; "20 मीटर x 30" becomes "20 m x 30".
func inUnits(s string) string {
	s = unitPairs.Replace(text.Fold(Clean(s)))
	s = quoteFeet.ReplaceAllString(quoteInches.ReplaceAllString(s, "$1 in"), "$1 ft ")
	var b strings.Builder
	at := 0
	for _, w := range unitWord.FindAllStringIndex(s, -1) {
		word := strings.ReplaceAll(s[w[0]:w[1]], ".", "")
		sign, known := signOf[word]
		alone := w[0] > 0 && s[w[0]-1] == ' ' && w[1] < len(s) && s[w[1]] == ' '
		if !known || joins[sign] && !alone {
			continue
		}
		b.WriteString(s[at:w[0]])
		at = w[1]
		if sign == word {
			b.WriteString(sign)
			continue
		}
		if w[0] > 0 && isDigit(s[w[0]-1]) {
			b.WriteByte(' ')
		}
		b.WriteString(sign)
		if at < len(s) && isDigit(s[at]) {
			b.WriteByte(' ')
		}
	}
	b.WriteString(s[at:])
	s = squareForm.ReplaceAllString(b.String(), "m2")
	if f := unitFirst.FindStringIndex(s); f != nil && f[0] == 0 {
		s = unitFirst.ReplaceAllString(s, "$3 $1$2")
	}
	return strings.TrimSpace(s)
}
