// Package answer reads what a grower typed. Each function takes one entry. It returns the value that was typed, or a
// Refusal, which says why the entry cannot be used, or the value with a Doubt, which says that the entry is likely a
// typing mistake. The Doubt also names the value that was likely meant, if that value can be guessed.
//
// Each file reads one kind of answer: date.go reads dates, area.go reads areas, and so on. The words that growers type
// for units are listed in unitwords.go. The operator's own units of area are read in localunits.go.
//
// Every function in this package is pure: it uses no screens, no session, no records and no clock. The caller passes in
// today's date, the limits that depend on a plot, and the words of the languages. Package menu decides which question
// is asked and what happens after the answer.
package answer

import (
	"maps"

	"rowbell/menu/text"
)

// Refusal is the reason why an entry cannot be used, as a text of the catalogue with its values. The texts are:
//
//	refuse.empty                       nothing was typed
//	refuse.choice         read allowed not one of the digits offered ("1-3")
//	refuse.keys           read         any digit: the screen offers only back and home
//	refuse.whole          read from to not a whole number, or outside the limits
//	refuse.days           read from to not a whole number of days ago, or outside the limits
//	refuse.people         read from to not a number of people, or outside the limits
//	refuse.bags           read         not a number of bags
//	refuse.date           read         not a date
//	refuse.date-none      read         a day that the calendar does not have: 31/2
//	refuse.date-ahead     read date year days  more than {days} days ahead
//	refuse.date-future    read date year       after today, though the question is about the past
//	refuse.date-old       read date year days  more than {days} days back
//	refuse.length         read         not a length
//	refuse.length-range   read cm from to      a length outside the limits, in cm
//	refuse.gaps-range     read cm gaps each from to  {cm} cm over {gaps} gaps: a gap of {each} cm is outside the
//	                                                 limits; {from} and {to} are the limits of {cm}
//	refuse.widths         read         not two different widths
//	refuse.heights        read         not heights of people, or more than MaxHeights
//	refuse.area           read         not an area
//	refuse.sides          read from to not two sides, or a side outside the limits, in m
//	refuse.area-range     read area from to    an area outside the limits, in m2
//	refuse.hours          read         not hours
//	refuse.hours-range    read hours from to   hours outside the limits
//	refuse.inlet          read         not litres and seconds
//	refuse.inlet-range    read flow    an inflow outside the limits, in l/s
//	refuse.price          read         not an amount of money, or an entry that can mean two amounts
//	refuse.price-range    price to     an amount above {to}
//	refuse.name           read         contains signs other than letters, digits and spaces
//	refuse.name-script    read         letters of a script that the language cannot show (made by package menu)
//	refuse.name-long      read max     too many letters, in UTF-16 units
//	refuse.code           read         not six digits
//	refuse.circle         read         not the number of a circle
//
// {read} is the beginning of what was typed; {from} and {to} are the limits.
type Refusal struct {
	Key  text.Key
	Args text.Args
}

// Refuse makes the refusal of an entry and adds {read} to args. An empty entry always gets refuse.empty, not key.
func Refuse(key text.Key, entry string, args text.Args) *Refusal {
	if Clean(entry) == "" {
		return &Refusal{Key: "refuse.empty"}
	}
	all := text.Args{"read": Shown(entry)}
	maps.Copy(all, args)
	return &Refusal{Key: key, Args: all}
}

// Doubt says that an entry was understood but is likely a typing mistake, so the menu should ask the grower whether the
// value is right. The zero Doubt means that the value is not doubted.
type Doubt[T any] struct {
	Why   Why
	Meant *T // the value that was likely meant instead; nil if it cannot be guessed
}

// Why is the reason why an entry is likely a typing mistake.
type Why uint8

// These are the reasons why an entry is doubted. For Corrected and CorrectedYear, the parser returns the corrected
// value in place of the typed one, and leaves Doubt.Meant nil.
const (
	NoDoubt       Why = iota
	Unusual           // hardly any grower has such a value
	Corrected         // the returned value replaces the typed one: 250 was read as 25
	CorrectedYear     // the returned date is in another year than the typed one
	NoFit             // the tool cannot go between the rows
)

// corrected is the Doubt about a value that replaced the typed one.
func corrected[T any]() Doubt[T] { return Doubt[T]{Why: Corrected} }

// unusual is the Doubt about a value that was typed but is unusual. The Doubt offers meant instead if ok is true.
func unusual[T any](meant T, ok bool) Doubt[T] {
	if !ok {
		return Doubt[T]{Why: Unusual}
	}
	return Doubt[T]{Why: Unusual, Meant: &meant}
}
