package gateway

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/profile"
)

// hint adds hints on what may be wrong in the description of the network, as far as this item shows it.
func (u *UnderstoodItem) hint(p *profile.Profile, kind string, doc *profile.Document, now time.Time) {
	how := callOf(p, kind)
	missing := false
	for _, f := range u.Fields {
		needed := slices.Contains([]string{"phone", "session", "text", "state", "event"}, f.Name) ||
			f.Name == "id" && kind != kindUSSD || f.Name == "entry" && u.Event == profile.Entry
		missing = missing || needed && f.At != "" && f.Value == "" && f.Wrong == ""
		switch {
		case f.Value == "":
		case f.Name == "phone":
			u.hintPhone(p, f)
		case f.Name == "at":
			if said := how.ExplainTime(f.Value, now); said != "" {
				u.note("at: %s", said)
			}
		case f.Name == "event" && p.USSD.Events != nil:
			u.hintWord("event", "events", f.Value, p.USSD.Events)
		case f.Name == "state" && p.Receipt.States != nil:
			u.hintWord("state", "states", f.Value, p.Receipt.States)
		case f.Name == "entry" && entries.MatchString(f.Value):
			u.hintHolds(&p.USSD, f.Value)
		case f.Name == "entry" && doc.LooksCoded(p.USSD.Entry) != "":
			u.note(`entry: coding = %q may be meant`, doc.LooksCoded(p.USSD.Entry))
		case f.Name == "text" && doc.LooksCoded(p.SMS.Text) != "":
			u.note(`text: coding = %q may be meant`, doc.LooksCoded(p.SMS.Text))
		}
		if strings.Contains(f.Value, "\ufffd") {
			u.note("%s: it is not in %s; charset says in what the network writes", f.Name, how.Charset)
		}
	}
	if missing {
		u.note("%s", places(doc))
	}
}

func (u *UnderstoodItem) note(format string, args ...any) {
	u.Hints = append(u.Hints, fmt.Sprintf(format, args...))
}

// beforeNumber matches the characters before the first digit or plus of a phone number.
var beforeNumber = regexp.MustCompile(`^[^0-9+]+`)

func (u *UnderstoodItem) hintPhone(p *profile.Profile, f UnderstoodField) {
	if _, err := ParsePhone(f.Value, p.CountryCode); err == nil {
		return
	}
	switch before := beforeNumber.FindString(f.Value); {
	case before != "" && before != f.Value:
		u.note(`phone: strip = { phone = [%q] } takes away what stands before the number`, before)
	case p.CountryCode == "":
		u.note(`phone: a number without a country code needs the setting country_code, such as "44"`)
	}
}

// hintWord lists the described words of the network if word is not one of them.
func (u *UnderstoodItem) hintWord(name, table, word string, means map[string]string) {
	if _, known := means[word]; known {
		return
	}
	u.note("%s: %q is not in %s, which has %s", name, word, table,
		strings.Join(slices.Sorted(maps.Keys(means)), ", "))
}

// entries matches the entries of a session so far, such as 1~2~1. Its group is the separator. The first entry is a
// choice of one digit: 20*30 is the size of a plot. Points, slashes and the like also stand in dates and sizes.
var entries = regexp.MustCompile(`^[0-9]([*~|#;_]+)[0-9]`)

func (u *UnderstoodItem) hintHolds(how *profile.USSD, entry string) {
	switch separator := entries.FindStringSubmatch(entry)[1]; {
	case !how.Whole:
		u.note(`entry: %q is read as one entry; if it holds the whole session so far, set holds = "all" `+
			`and separator = %q`, entry, separator)
	case !strings.Contains(entry, how.Separator):
		u.note("entry: the separator %q is not in %q; is it %q?", how.Separator, entry, separator)
	}
}

// places lists the places of a document.
func places(doc *profile.Document) string {
	list := "the request has " + strings.Join(doc.Places(), ", ")
	if lists := doc.Lists(); len(lists) > 0 {
		list += "; lists for each are " + strings.Join(lists, ", ")
	}
	if space := doc.Namespace(); space != "" {
		list += "; the root is in the namespace " + space
	}
	return list
}
