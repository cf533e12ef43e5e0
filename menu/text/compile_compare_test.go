package text

import "testing"

// A language may put a plural where the source has none or the other way round,
// as its grammar asks.
func TestLanguagesMayDiffer(t *testing.T) {
	c := catalogue(t, map[string]string{
		"en.toml": sound + "[a]\nb = { one = \"one day, {plot}\", other = \"{n} days, {plot}\" }",
		"id.toml": sound + "[a]\nb = \"{plot} {n} hari\"",
		"ja.toml": inScript("ucs2", "[a]\nb = { other = \"{n}日{plot}\" }"),
	})
	for lang, want := range map[string]string{"en": "one day, A", "id": "A 1 hari", "ja": "1日A"} {
		if got, err := c.Text(lang, "a.b", Args{"n": 1, "plot": "A"}); err != nil || got != want {
			t.Errorf("%s: %q, %v; want %q", lang, got, err, want)
		}
	}
}

// What a translation leaves out is told: every value, and of the forms of a
// plural each that has one less than the original.
func TestValuesLeftOut(t *testing.T) {
	english := sound + "[a]\nb = \"{plot}: {cm} cm, {cm}!\"\nc = { one = \"{plot}: one day\", other = \"{plot}: {n} days {what}\" }\nd = \"{n} cm\""
	for own, want := range map[string]string{
		"b = \"{plot}\"\nc = { one = \"{plot}\", other = \"{plot} {what}\" }\nd = \"{n}\"":    "sw.toml:14: a.b: leaves out {cm}, which en.toml has",
		"b = \"{cm}{plot}\"\nc = { one = \"x\", other = \"{plot}{what}\" }\nd = \"{n}\"":      "sw.toml:15: a.c: leaves out {plot}, which en.toml has",
		"b = \"{cm}{plot}\"\nc = { one = \"{plot}\", other = \"{n}{plot}\" }\nd = \"{n}\"":    "sw.toml:15: a.c: leaves out {what}, which en.toml has",
		"b = \"{cm}{plot}\"\nc = \"{plot}\"\nd = \"{n}\"":                                     "sw.toml:15: a.c: leaves out {what}, which en.toml has",
		"b = \"{cm}{plot}\"\nc = \"{plot}{what}\"\nd = \"x\"":                                 "sw.toml:16: a.d: leaves out {n}, which en.toml has",
		"b = \"{cm}{plot}\"\nc = \"{plot}{what}\"\nd = { one = \"one\", other = \"many\" }":   "",
		"b = \"{cm}{plot}\"\nc = { one = \"{plot}\", other = \"{plot}{what}\" }\nd = \"{n}\"": "",
	} {
		_, wrong, err := Inspect(folder(map[string]string{"en.toml": english, "sw.toml": sound + "[a]\n" + own}), nil, "")
		if err != nil {
			t.Fatal(err)
		}
		if got := wrong.Error(); got != want || want != "" && wrong[0].Kind != Values {
			t.Errorf("%s\n%s\nwant %q", own, got, want)
		}
	}
}

// Words are composed (Unicode NFC) in every alphabet; the joiners, which shape
// letters, stay.
func TestComposed(t *testing.T) {
	c := catalogue(t, map[string]string{
		"en.toml": sound + "[a]\nb = \"e\u0300\"",
		"hi.toml": inScript("ucs2", "[a]\nb = \"क्\u200dष o\u0302\u0303 \u200c\""),
	})
	for lang, want := range map[string]string{"en": "è", "hi": "क्\u200dष \u1ed7 \u200c"} {
		if got, err := c.Text(lang, "a.b", nil); err != nil || got != want {
			t.Errorf("%s: %+q, %v; want %+q", lang, got, err, want)
		}
	}
}
