package desk

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"rowbell/menu/text"
)

// maxLetterParts is how many parts a letter may have: long texts cost much and are not read to their end. Chosen here.
const maxLetterParts = 3

// partsView says how long a text is on a phone.
type partsView struct {
	Letters  int
	Parts    int
	Room     int    // letters that still fit in the last part
	Alphabet string // in words
	Foreign  string // letters that need the 16-bit alphabet, in a text that would otherwise do without
	TooLong  bool
}

// partsOf counts the parts of a text by 3GPP TS 23.040, as the outbox sends it.
func (d *Desk) partsOf(s string) partsView {
	encoded := d.o.Encoder.Encode(s)
	v := partsView{Letters: utf8.RuneCountInString(s), Parts: encoded.Segments,
		TooLong: encoded.Segments > maxLetterParts}
	room, perLetter := 160, 1 // septets of a part: 3GPP TS 23.038, clause 6.1.2.1
	v.Alphabet = "7-bit alphabet"
	if encoded.Encoding.Alphabet == text.UCS2 {
		room, perLetter, v.Alphabet = 140, 2, "16-bit alphabet" // octets
		v.Foreign = foreignLetters(s)
	} else if encoded.Encoding.String() != text.GSM7.String() {
		v.Alphabet = "7-bit alphabet with a national table"
	}
	if parts, err := encoded.Split(text.Ref8(0)); err == nil && len(parts) > 0 {
		v.Room = (room - parts[len(parts)-1].Length) / perLetter
	}
	return v
}

// foreignLetters lists the letters that the 7-bit alphabet lacks, if they are few: then other letters would do.
func foreignLetters(s string) string {
	const few = 6
	var list []string
	for _, c := range s {
		if one := string(c); !text.IsGSM7(one) && !slices.Contains(list, one) {
			list = append(list, one)
		}
	}
	if len(list) > few {
		return ""
	}
	return strings.Join(list, " ")
}

// String says the length in words.
func (v partsView) String() string {
	if v.Letters == 0 {
		return "empty"
	}
	s := fmt.Sprintf("%s, %s in the %s; room for %d more in the last part",
		plural(v.Letters, "letter", "letters"), plural(v.Parts, "part", "parts"), v.Alphabet, v.Room)
	if v.TooLong {
		s += fmt.Sprintf("; at most %d parts may be sent", maxLetterParts)
	}
	if v.Foreign != "" {
		s += ". These letters make it longer: " + v.Foreign
	}
	return s
}

// cost returns the price of a number of parts, in words; "" if no network has a price.
func (d *Desk) cost(parts int64) string {
	prices := slices.DeleteFunc(slices.Clone(d.o.SegmentPrices), func(p int64) bool { return p <= 0 })
	if len(prices) == 0 {
		return ""
	}
	least, most := d.money(slices.Min(prices)*parts), d.money(slices.Max(prices)*parts)
	if least == most {
		return least
	}
	return least + " to " + most + ", by the network"
}

// money writes millionths of the currency of the limits.
func (d *Desk) money(micros int64) string {
	return strings.TrimSpace(fmt.Sprintf("%.2f %s", float64(micros)/1e6, d.o.Currency))
}
