package menu

import (
	"slices"
	"strings"
	"sync"
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// Menus are shared: they are immutable.
var (
	everyLanguage = sync.OnceValues(func() (*Menu, error) { return menuIn() })
	inEnglish     = sync.OnceValues(func() (*Menu, error) { return menuIn("en") })
)

// menuIn is the menu in some of the languages that the program carries, in all
// without a name.
func menuIn(langs ...string) (*Menu, error) {
	cat, err := text.Default()
	if err == nil && len(langs) > 0 {
		cat, err = cat.Only(langs...)
	}
	if err != nil {
		return nil, err
	}
	return New(cat, Options{Units: []AreaUnit{{Name: "bigha", M2: 1337.8}, {Name: "katha", M2: 66.9}}})
}

// newMenu is the menu in English.
func newMenu(t testing.TB) *Menu { return menuOf(t, inEnglish) }

// everyMenu is the menu in every language.
func everyMenu(t testing.TB) *Menu { return menuOf(t, everyLanguage) }

func menuOf(t testing.TB, of func() (*Menu, error)) *Menu {
	t.Helper()
	m, err := of()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// longLabel is as wide as a plot's name gets.
var longLabel = strings.Repeat("W", 10)

// newcomer is a number without records, where there are many places.
func newcomer() *notebook.Book {
	return &notebook.Book{Day: engine.Date(2026, 11, 25), Climate: engine.Steady(21, 31),
		Seasons:    map[int]engine.Season{},
		PlaceNames: slices.Repeat([]string{longLabel}, MaxPlaces), Place: longLabel}
}
