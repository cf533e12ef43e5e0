package testrun

import "testing"

// What may contain any digits by chance is left out, and nothing else: a number in a label or in another field stays.
func TestWithoutChance(t *testing.T) {
	for output, want := range map[string]string{
		`{"request":"000000000007700900123abc","phone":"7700900123"}`: `{"request":"","phone":"7700900123"}`,
		`{"request":"7700900123"}`:                                    `{"request":"7700900123"}`,
		"urn:rowbell:request:000000000007700900123abc":                "urn:rowbell:request:",
		"# HELP x 7700900\nx 7700900123\nx{to=\"7700900123\"} 1e+06":  "# HELP x 7700900\nx\nx{to=\"7700900123\"}",
	} {
		if got := WithoutChance(output); got != want {
			t.Errorf("%s became %s", output, got)
		}
	}
}
