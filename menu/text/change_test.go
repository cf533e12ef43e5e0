package text

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"pgregory.net/rapid"
)

func single(s string) []Form { return []Form{{"", s}} }

func TestChange(t *testing.T) {
	weeks := []Form{{"one", "{n} week"}, {"other", "{n} weeks"}}
	for name, c := range map[string]struct {
		file, key string
		forms     []Form
		want      string // "" = ErrByHand
	}{
		"an empty file": {"", "home.ask", single("What?"), "\n[home]\nask = \"What?\"\n"},
		"another table": {"[sms]\nhelp = \"x\"", "home.ask", single("What?"),
			"[sms]\nhelp = \"x\"\n\n[home]\nask = \"What?\"\n"},
		"another key": {"[home] # the first\nhi = \"x\"\n\n# about sms\n[sms]\n", "home.ask", single("y"),
			"[home] # the first\nhi = \"x\"\nask = \"y\"\n\n# about sms\n[sms]\n"},
		"an empty table": {"[home]\n[sms]\n", "home.ask", single("y"),
			"[home]\nask = \"y\"\n[sms]\n"},
		"a comment": {"# top\n[home]\n  ask = 'a # b' # keep\nhi = \"x\"\n", "home.ask", single(`"q" \ é`),
			"# top\n[home]\n  ask = \"\\\"q\\\" \\\\ é\" # keep\nhi = \"x\"\n"},
		"escaped quotes": {`[home]` + "\n" + `ask = "a \" = b" # x`, "home.ask", single("c"),
			`[home]` + "\n" + `ask = "c" # x`},
		"several lines": {"[home]\nask = \"\"\"\none\ntwo\"\"\"\nhi = 'x'\n", "home.ask", single("a\nb"),
			"[home]\nask = \"a\\nb\"\nhi = 'x'\n"},
		"dotted keys": {"home.ask = 'x'\nhome.hi = 'y'\n", "home.ask", single("z"),
			"home.ask = \"z\"\nhome.hi = 'y'\n"},
		"a plural": {"[home]\nweeded = { one = '{n} day', other = \"}\" } # x\n", "home.weeded", weeks,
			"[home]\nweeded = { one = \"{n} week\", other = \"{n} weeks\" } # x\n"},
		"plural lines": {"[home.weeded]\none = '{n} day' # 1\nother = \"}\" # 2\n", "home.weeded", weeks,
			"[home.weeded]\none = \"{n} week\" # 1\nother = \"{n} weeks\" # 2\n"},
		"a new plural": {"[home]\nask = 'x'\n", "home.weeded", weeks,
			"[home]\nask = 'x'\nweeded = { one = \"{n} week\", other = \"{n} weeks\" }\n"},
		"a table inside": {"[see]\nleaves.none = 'x'\n", "see.leaves.one", single("y"),
			"[see]\nleaves.none = 'x'\nleaves.one = \"y\"\n"},
		"an inline table": {"[see]\nleaves = { none = 'x', one = 'y' }\n", "see.leaves.one", single("z"),
			""},
		"Windows lines": {"[home]\r\nask = 'x'\r\nhi = 'y'\r\n", "home.ask", single("z"),
			"[home]\r\nask = \"z\"\r\nhi = 'y'\r\n"},
	} {
		got, err := Change([]byte(c.file), Key(c.key), c.forms)
		switch {
		case c.want == "" && !errors.Is(err, ErrByHand):
			t.Errorf("%s: %q, %v", name, got, err)
		case c.want != "" && (err != nil || string(got) != c.want):
			t.Errorf("%s: got %q, %v\nwant %q", name, got, err, c.want)
		}
	}
	for _, file := range []string{"[home", "ask = "} {
		if got, err := Change([]byte(file), "home.ask", single("x")); err == nil {
			t.Errorf("%q became %q", file, got)
		}
	}
	for _, key := range []Key{"", "ask", ".ask"} {
		if got, err := Change(nil, key, single("x")); err == nil {
			t.Errorf("the key %q was taken: %q", key, got)
		}
	}
}

// Each text of each built-in file can be changed, and nothing else changes with it.
func TestChangeEveryText(t *testing.T) {
	c, err := Default()
	if err != nil {
		t.Fatal(err)
	}
	for _, lang := range c.Languages() {
		file, err := files.ReadFile(lang + ".toml")
		if err != nil {
			t.Fatal(err)
		}
		for i, k := range c.Keys(lang) {
			forms := c.Forms(lang, k)
			for j := range forms {
				forms[j].Text += " changed"
			}
			if i%31 > 0 { // a file is decoded twice for each change
				continue
			}
			changed, err := Change(file, k, forms)
			if err != nil {
				t.Errorf("%s: %v", lang, err)
				continue
			}
			if a, b := strings.Count(string(file), "\n"), strings.Count(string(changed), "\n"); a < b || a > b+9 {
				t.Errorf("%s: %s: %d lines became %d", lang, k, a, b)
			}
		}
	}
}

// Whatever is typed can be read again from the file.
func TestChangeReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.String().Draw(t, "typed")
		file, err := Change([]byte("[home]\nask = \"x\"\n"), "home.ask", single(typed))
		if err != nil {
			t.Fatal(err)
		}
		var got map[string]map[string]string
		if err := toml.Unmarshal(file, &got); err != nil || got["home"]["ask"] != typed {
			t.Fatalf("%q is read as %q, %v", typed, got, err)
		}
	})
}

// Change never panics, and what it returns differs from the file in the one text only.
func FuzzChange(f *testing.F) {
	f.Add([]byte("[home]\nask = \"x\" # y\n"), "z")
	f.Add([]byte("home.ask = '''x\n''''\n[a]\nb = {c = \"d\"}"), "")
	f.Add([]byte("[[home]]\nask = 1"), "z")
	f.Add([]byte("home = { ask = 'x' }"), "z")
	f.Fuzz(func(t *testing.T, file []byte, typed string) {
		got, err := Change(file, "home.ask", single(typed))
		if err != nil {
			return
		}
		var was, is map[string]any
		if toml.Unmarshal(file, &was) != nil || toml.Unmarshal(got, &is) != nil {
			t.Fatalf("%q became %q", file, got)
		}
		if want := put(was, []string{"home", "ask"}, any(typed)); !reflect.DeepEqual(is, want) {
			t.Errorf("%v became %v, want %v", was, is, want)
		}
	})
}
