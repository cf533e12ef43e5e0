package answer

import (
	"strings"
	"time"
)

// monthNames holds each language's words for the twelve months. The words are the full names and the abbreviations
// (without dots) of the Unicode CLDR, and other usual spellings (common practice, no source).
var monthNames = map[string][12]string{
	"en": {"january jan", "february feb", "march mar", "april apr", "may", "june jun", "july jul", "august aug",
		"september sep sept", "october oct", "november nov", "december dec"},
	"fr": {"janvier janv", "février févr", "mars", "avril avr", "mai", "juin", "juillet juil", "août",
		"septembre sept", "octobre oct", "novembre nov", "décembre déc"},
	"sw": {"januari jan", "februari feb", "machi mac", "aprili apr", "mei", "juni jun", "julai jul", "agosti ago",
		"septemba sep", "oktoba okt", "novemba nov", "desemba des"},
	"hi": {"जनवरी जन", "फ़रवरी फ़र", "मार्च", "अप्रैल", "मई", "जून", "जुलाई जुल", "अगस्त अग", "सितंबर सित",
		"अक्तूबर अक्तू", "नवंबर नव", "दिसंबर दिस"},
	"pt": {"janeiro jan", "fevereiro fev", "março mar", "abril abr", "maio mai", "junho jun", "julho jul",
		"agosto ago", "setembro set", "outubro out", "novembro nov", "dezembro dez"},
	"id": {"januari jan", "februari feb", "maret mar", "april apr", "mei", "juni jun", "juli jul", "agustus agu",
		"september sep", "oktober okt", "november nov", "desember des"},
}

var dayNames = map[string]int{
	"today": 0, "yesterday": -1, "aujourd'hui": 0, "hier": -1, "leo": 0, "jana": -1, "आज": 0, "कल": -1, "hoje": 0,
	"ontem": -1, "ini": 0, "kemarin": -1,
}

// weekdayNames holds the abbreviated weekdays of the Unicode CLDR (without dots), with Sunday first. Swahili and
// Indonesian have the full names instead.
var weekdayNames = []string{
	"sun mon tue wed thu fri sat", "dim lun mar mer jeu ven sam",
	"jumapili jumatatu jumanne jumatano alhamisi ijumaa jumamosi",
	"रवि सोम मंगल बुध गुरु शुक्र शनि", "dom seg ter qua qui sex sáb", "minggu senin selasa rabu kamis jumat sabtu",
}

// sixLanguages holds the date words of all six languages together, for a grower who may use any of these languages.
var sixLanguages = func() DateWords {
	months, weekdays := map[string]time.Month{}, []string{}
	for _, names := range monthNames {
		for i, list := range names {
			for w := range strings.FieldsSeq(list) {
				months[w] = time.Month(i + 1)
			}
		}
	}
	for _, names := range weekdayNames {
		weekdays = append(weekdays, strings.Fields(names)...)
	}
	return NewDateWords(nil, months, dayNames, weekdays)
}()
