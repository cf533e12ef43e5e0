package growercsv

import "strings"

// A spreadsheet takes a cell for a formula, and runs it, if the cell begins with one of certain characters. So such a
// cell is written with an apostrophe before it, and the apostrophe is taken away when the file is read again. Numbers
// of phones begin with a plus sign; the apostrophe also keeps a spreadsheet from making 4.477E+11 of them.

// starters are the characters with which a formula may begin: OWASP, CSV Injection
// (owasp.org/www-community/attacks/CSV_Injection): = + - @, tab, carriage return, line feed. The same in full width, in
// which some spreadsheets take them too (from memory).
const starters = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"

const apostrophe = "'"

// Defuse returns a text for a cell of a CSV file: with an apostrophe before it, if a spreadsheet could take it for a
// formula or Plain would not return it unchanged.
func Defuse(text string) string {
	if Formula(text) || clears(text) || Plain(text) != text {
		return apostrophe + text
	}
	return text
}

// Plain returns the text that Defuse wrote into a cell. An apostrophe that Defuse does not write is left alone.
func Plain(cell string) string {
	text, marked := strings.CutPrefix(cell, apostrophe)
	if marked && (Formula(text) || clears(text) || strings.HasPrefix(text, apostrophe)) {
		return text
	}
	return cell
}

// Formula reports whether a spreadsheet could take a text for a formula.
func Formula(text string) bool {
	text = strings.TrimLeft(text, " ")
	return text != "" && strings.ContainsAny(firstRune(text), starters)
}

func firstRune(s string) string {
	for i := range s {
		if i > 0 {
			return s[:i]
		}
	}
	return s
}

// clear is the word that takes a value out of the records.
const clear = "none"

func clears(text string) bool { return strings.EqualFold(strings.TrimSpace(text), clear) }
