package service

import (
	"reflect"
	"slices"
	"testing"

	"rowbell/cmd/rowbell/config"
)

// A configuration that is read anew changes a setting at once (newParts and PutPlaces read it), or the setting needs a
// restart (the list fixed has it). A new setting must be put into one of the two lists.
func TestEachSettingIsFixedOrChanges(t *testing.T) {
	changes := []string{"DialCode", "Contact", "Sender", "CountryCode", "QuietHour", "StepM", "Place", "Places",
		"Units", "Texts", "Resume", "Push", "Watch", "Limits", "Proxy", "Desk", "Gateways", "Routes"}
	settings := reflect.TypeFor[config.Config]()
	for i := range settings.NumField() {
		name := settings.Field(i).Name
		if slices.Contains(changes, name) == slices.Contains(fixed, name) {
			t.Errorf("%s: does it change at once, or does it need a restart?", name)
		}
	}
	c, before := config.Default(), config.Default()
	c.QuietHour, c.Keep.Texts = 19, 90
	if names := keepFixed(&c, before); !slices.Equal(names, []string{"keep"}) || c.QuietHour != 19 ||
		c.Keep != before.Keep {
		t.Errorf("%v %+v", names, c)
	}
}
