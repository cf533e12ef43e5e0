package desk

import (
	"cmp"
	"html/template"

	"rowbell/store"
)

// Tel returns the address with which a phone rings a number. Only pages for those who may call use it.
func (v *view) Tel(p store.Phone) template.URL {
	if !v.r.may(call) {
		return ""
	}
	return template.URL("tel:" + p.E164()) // a number of E.164, so nothing needs to be escaped
}

// Unix returns the instant of the page in Unix seconds.
func (v *view) Unix() int64 { return v.Now.Unix() }

// At is Instant for an instant of the personal data.
func (v *view) At(at store.Instant, placeID int64) string { return v.Instant(int64(at), placeID) }

// Channel returns in words how something came into the records.
func (v *view) Channel(name string) string {
	words := map[string]string{"ussd": "dial", "sms": "text", channel: "staff"}
	return cmp.Or(words[name], name)
}

// Language returns the name of a language.
func (v *view) Language(tag string) string { return v.r.language(tag) }
