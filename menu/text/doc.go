// Package text has every text that growers read, and computes how long a text is on a phone. It has a catalogue of
// languages, and the encodings of SMS and USSD. It may import only small libraries. Screens, plots and networks do not
// belong in it.
//
// A language is one TOML file, whose name is the language's tag (en.toml). Each string in a table is a text; its key is
// the dotted name, such as home.ask. A table whose names are all plural categories of the Unicode CLDR (one, other,
// few, ...) is a single text with several forms, of which the whole number {n} chooses one. {name} is a placeholder for
// a value; {{ and }} are literal braces.
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
//	month_words = [...]   # optional: twelve strings, other spellings that growers type
//	today = "today tod"   # optional: words that growers type for the day
//	yesterday = "yesterday"
//	tomorrow = "tomorrow" # a word may mean yesterday and tomorrow
//	before-yesterday = "day-before-yesterday" # a hyphen stands for a space too
//	after-tomorrow = "day-after-tomorrow"
//
//	[to-gsm7]             # optional, only in a gsm7 language
//	"ã" = "a"             # the file has ã; phones are sent a
//
//	[home]
//	ask = "What now?"
//	weeded = { one = "{n} day ago", other = "{n} days ago" }
//
// The file of a gsm7 language uses the language's own spelling. The table [to-gsm7] says how to replace letters that
// the GSM 7-bit alphabet lacks; no other letters are replaced. The catalogue stores both spellings: Text returns the
// text with replaced letters; Spelled returns a catalogue that uses the own spelling if national tables have all its
// letters.
//
// Load compiles the files. Inspect does so too, and adds the files of an operator's folder, whose texts replace
// built-in texts. Every problem is reported with file, line and key. Nothing is replaced silently: a missing language,
// text or value is an error. Only the draft that Inspect returns may lack texts, so that the person who mends a file
// can see the rest.
package text
