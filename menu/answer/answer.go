// Package answer reads what a grower typed. Each function takes one entry and returns the value that was understood;
// or a Refusal, which says why it cannot be used; or the value with a Doubt, which says that it is likely a slip and,
// where that can be told, what was likely meant.
//
// A file reads one kind of answer: date.go, area.go, hours.go and so on. The words that growers type for units stand
// in unitwords.go, the operator's own units of area in localunits.go.
//
// Everything in this package is pure. No screens, no session, no records, no clock: today, the limits that depend on
// a plot, and the words of the languages are handed in. Who asks what, and what happens next, is decided in package
// menu.
package answer

import "rowbell/menu/text"

// Refusal is the reason why an entry cannot be used, as a text of the catalogue with its values. The texts are:
//
//	refuse.empty                       nothing was typed
//	refuse.choice         read allowed not one of the digits offered ("1-3")
//	refuse.keys           read         nothing is offered but back and home
//	refuse.whole          read from to not a whole number, or outside the limits
//	refuse.days           read from to not a whole number of days ago, or outside the limits
//	refuse.people         read from to not a number of people, or outside the limits
//	refuse.bags           read         not a number of bags
//	refuse.date           read         not a date
//	refuse.date-none      read         no such day: 31/2
//	refuse.date-ahead     read date year days  more than {days} days ahead
//	refuse.date-future    read date year       ahead, where only the past is asked for
//	refuse.date-old       read date year days  more than {days} days back
//	refuse.length         read         not a length
//	refuse.length-range   read cm from to      a length outside the limits, in cm
//	refuse.gaps-range     read cm gaps each from to  {cm} over {gaps} gaps are {each} cm each; limits of {cm}
//	refuse.widths         read         not two different widths
//	refuse.heights        read         not heights of people, or more than MaxHeights
//	refuse.area           read         not an area
//	refuse.sides          read from to not two sides, or a side outside the limits, in m
//	refuse.area-range     read area from to    an area outside the limits, in m2
//	refuse.hours          read         not hours
//	refuse.hours-range    read hours from to   hours outside the limits
//	refuse.inlet          read         not litres and seconds
//	refuse.inlet-range    read flow    an inflow outside the limits, in l/s
//	refuse.price          read         not one amount of money, or it could be two
//	refuse.price-range    price to     more than is believed
//	refuse.name           read         other signs than letters, digits and spaces
//	refuse.name-long      read max     too many characters
//	refuse.code           read         not six digits
//
// {read} is what was typed, cut short; {from} and {to} are the limits.
type Refusal struct {
	Key  text.Key
	Args text.Args
}

// Error is for developers. The grower gets the text that Key names.
func (r *Refusal) Error() string { return "answer refused: " + string(r.Key) }

// Refuse makes the refusal of an entry: {read} is added to args. An empty entry is refused as empty, whatever the
// key.
func Refuse(key text.Key, entry string, args text.Args) *Refusal {
	if Clean(entry) == "" {
		return &Refusal{Key: "refuse.empty"}
	}
	all := text.Args{"read": Shown(entry)}
	for name, v := range args {
		all[name] = v
	}
	return &Refusal{Key: key, Args: all}
}

// Doubt says that a value was understood and is likely a slip of the thumb, so that it should be asked back. The zero
// value is no doubt.
type Doubt[T any] struct {
	Why   Why
	Meant *T // the value that was likely meant instead; nil: cannot be told
}

// Why is the reason of a doubt.
type Why uint8

// The reasons. After Corrected and CorrectedYear the value itself is not what was typed, so there is nothing else to
// offer.
const (
	NoDoubt       Why = iota
	Unusual           // hardly any grower has such a value
	Corrected         // another value was read than was typed: 250 as 25
	CorrectedYear     // a date was read in another year than was typed
	NoFit             // the tool cannot go between the rows
)

// corrected is the doubt about a value that replaced the typed one.
func corrected[T any]() Doubt[T] { return Doubt[T]{Why: Corrected} }

// unusual is a doubt about a value as typed; meant is offered where ok.
func unusual[T any](meant T, ok bool) Doubt[T] {
	if !ok {
		return Doubt[T]{Why: Unusual}
	}
	return Doubt[T]{Why: Unusual, Meant: &meant}
}
