// Package text holds every word that growers read, and how long it is on a phone: a catalogue of languages, and the
// encodings of SMS and USSD. It may import small libraries only, and knows nothing of screens, plots or networks.
//
// A language is one TOML file named by its tag (en.toml). Each string in a table is a text; its key is the dotted name.
// A table whose names are all plural categories of the Unicode CLDR (one, other, few, ...) is one text with a form for
// each; the whole number {n} chooses the form. {name} is a placeholder for a value; {{ and }} are literal braces.
//
//	[meta]
//	name = "English"      # the language's own name
//	alphabet = "gsm7"     # or "ucs2"
//	reviewed = false      # true: read by a fluent person
//
//	[calendar]
//	weekdays = [...]      # seven, Sunday first
//	months = [...]        # twelve
//	date = "{weekday} {day} {month}"
//	day_month = "{day} {month}"
//	month_words = [...]   # optional: twelve strings, other spellings that growers type
//	today = "today tod"   # optional: words that growers type for the day
//	yesterday = "yesterday"
//
//	[to-gsm7]             # optional, only in a gsm7 language
//	"ã" = "a"             # the file has ã; phones are sent a
//
//	[home]
//	ask = "What now?"
//	weeded = { one = "{n} day ago", other = "{n} days ago" }
//
// A gsm7 language is written in its own spelling in the file. [to-gsm7] says how to replace letters that the GSM 7-bit
// alphabet lacks; nothing else is replaced. Both spellings are kept: Text returns the replaced one; Spelled returns a
// catalogue that uses the own spelling where national tables cover it.
//
// Files are compiled by Load, or by Inspect with an operator's folder laid over them. Every problem is reported with
// file, line and key. There is no silent fallback: a missing language, text or value is an error. Only the draft of
// Inspect has gaps, for the person who mends a file.
package text
