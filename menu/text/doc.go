// Package text holds every word that a grower reads, and knows how long it is
// on a phone: a catalogue of languages, and the alphabets that carry them.
//
// A language is one TOML file named by its tag (en.toml). Tables of strings are
// texts, their names joined by dots make the key. A table whose names are all
// plural categories of the Unicode CLDR (one, other, few, ...) is one text
// whose form is chosen by the whole number {n}. {name} is filled in; {{ and }}
// stand for the braces themselves.
//
//	[meta]
//	name = "English"      # the language's own name
//	alphabet = "gsm7"     # or "ucs2"
//	reviewed = false      # by a fluent person
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
//	[to-gsm7]             # optional, of a gsm7 language
//	"ã" = "a"             # the texts have ã; phones are sent a
//
//	[home]
//	ask = "What now?"
//	weeded = { one = "{n} day ago", other = "{n} days ago" }
//
// A gsm7 language is spelled properly in its file; [to-gsm7] says how what the
// GSM 7-bit alphabet lacks is written, and nothing else is rewritten. Both
// spellings are kept: Text gives the rewritten one, Spelled a view of the
// catalogue with the proper one for where a phone can be sent it.
//
// All of it is compiled at Load, or at Inspect with an operator's folder laid over
// it; file, line and key of whatever is wrong are named. Nothing falls back in
// silence: a missing language, text or value is an error. Only the draft of
// Inspect, for whoever mends a file, has holes.
package text
