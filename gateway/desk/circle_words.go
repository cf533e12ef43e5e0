package desk

import (
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// The words for what a circle has. They name people only to readers who may see names.

// personName names a person of the circle of the request. 0 is the circle itself.
func (r *request) personName(id int64) string {
	if id == 0 {
		return "the circle"
	}
	for i, p := range r.circle.People {
		switch {
		case p.ID != id:
		case !r.may(call):
			return fmt.Sprint("person ", i+1)
		case p.Name == "":
			return fmt.Sprintf("a former member (%d)", i+1)
		default:
			return p.Name
		}
	}
	return "somebody"
}

// personReached returns the phone number of a person as the reader may see it: in full only if the grower is of a place
// of the reader.
func (r *request) personReached(p store.CirclePerson) string {
	if p.Phone == "" {
		return "no number"
	}
	phone := store.Phone(p.Phone)
	if r.scope.Has(p.PlaceID) {
		return r.number(phone)
	}
	return phone.String()
}

// toolName names a tool by the name that its circle gave it, or by its number in the list.
func (r *request) toolName(id int64) string {
	t, no := r.circle.Tool(id)
	switch {
	case no == 0:
		return "a tool that was taken out"
	case t.Name != "":
		return t.Name
	}
	return fmt.Sprint("tool ", no)
}

// plotName names a plot of a person of the circle.
func (r *request) plotName(person int64, no int) string {
	if no == 0 {
		return r.personName(person)
	}
	if len(r.circle.Person(person).Plots) < 2 {
		return r.personName(person)
	}
	return fmt.Sprintf("%s, plot %d", r.personName(person), no)
}

// daySpan returns one day or a range of days.
func daySpan(from, to engine.Day) string {
	if from >= to {
		return shortDay(from)
	}
	return shortDay(from) + " to " + shortDay(to)
}

// width returns the width of a tool.
func width(t engine.Tool) string {
	cm := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	if t.MaxWidthCM > t.WidthCM {
		return cm(t.WidthCM) + "–" + cm(t.MaxWidthCM) + " cm"
	}
	return cm(t.WidthCM) + " cm"
}

// money returns an amount in hundredths, with the currency of the place of the circle.
func (r *request) money(hundredths int64) string {
	sign, n := "", hundredths
	if n < 0 {
		sign, n = "−", -n
	}
	words := sign + strconv.FormatInt(n/100, 10)
	if n%100 != 0 {
		words += fmt.Sprintf(".%02d", n%100)
	}
	for _, p := range r.places {
		if p.ID == r.circle.PlaceID && p.Prices.Currency != "" {
			words += " " + p.Prices.Currency
		}
	}
	return words
}

// asked says what one person of the circle asks another, or says to the other.
func (r *request) asked(a circle.Ask) string {
	to, amount := r.personName(a.To), r.money(a.Amount)
	payee := to
	if a.ForCircle {
		payee = "the circle"
	}
	switch a.Kind {
	case circle.AskJoin:
		return "asks to join"
	case circle.AskKeeper:
		return "asks " + to + " to be the keeper"
	case circle.AskSwap:
		return fmt.Sprintf("asks %s to exchange the turns of %s and %s", to, shortDay(a.Day), shortDay(a.Other))
	case circle.AskHire:
		return fmt.Sprintf("asks to hire %s, %s, for %s", r.toolName(a.Tool),
			daySpan(a.Day, a.Day+engine.Day(a.Days)-1), amount)
	case circle.AskWeeding:
		return fmt.Sprintf("asks %s to weed %g m², %s", to, a.AreaM2, shortDay(a.Day))
	case circle.AskOffer:
		return fmt.Sprintf("offers %s to weed %g m², %s, for %s", to, a.AreaM2, shortDay(a.Day), amount)
	case circle.AskWeeded:
		return fmt.Sprintf("says: the weeding is done, %s owes %s", to, amount)
	case circle.AskPaid:
		return fmt.Sprintf("says: %s was paid to %s", amount, payee)
	case circle.AskReceived:
		if a.ForCircle {
			to += " paid the circle"
		} else {
			to += " paid"
		}
		return fmt.Sprintf("says: %s %s", to, amount)
	}
	return a.Kind.String()
}

// entryWords says what an entry is about.
func (r *request) entryWords(e circle.Entry) string {
	words := map[circle.EntryKind]string{circle.EntryDay: "day of a tool", circle.EntryHire: "hire",
		circle.EntryWeeding: "weeding", circle.EntryPayment: "payment"}[e.Kind]
	if e.Corrects != 0 {
		words = "takes back a " + words
	}
	if e.Tool != 0 {
		words += ": " + r.toolName(e.Tool)
	}
	return words
}

// wishWords says what a member said of the turn for a window; "" for nothing.
func wishWords(w store.DueWish) string {
	var words []string
	if w.ExtraDays > 0 {
		words = append(words, "asked for "+plural(w.ExtraDays, "day more", "days more"))
	}
	if w.Skip {
		words = append(words, "gave the turn to others")
	}
	if w.Ready {
		words = append(words, "said on "+shortDay(w.ReadyOn)+" that the tool is free")
	}
	return strings.Join(words, "; ")
}
