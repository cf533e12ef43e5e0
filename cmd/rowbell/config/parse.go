package config

import (
	"reflect"

	"rowbell/gateway/fault"
)

// Parse decodes a file over the values of Default. The error is Mistakes: all that is wrong, each with its line.
func Parse(b []byte) (Config, error) { return parseWith(b, nil) }

// parseWith is Parse, which also reports the secrets that networks need and the environment lacks. Without env, no
// secret is looked for.
func parseWith(b []byte, env func(string) string) (Config, error) {
	c := Default()
	r := &report{}
	d, whole := readDocument(b, r)
	r.conceal("", &node{value: d.root}, false)
	settings := reflect.ValueOf(&c).Elem()
	d.top = map[string]bool{}
	for _, f := range fieldsOf(settings, "") {
		d.top[f.path] = true
	}
	d.fillTable(settings, d.root, "")
	// What a file contradicts or lacks can only be said of a whole file.
	if whole {
		secret := func(string) (string, error) { return anySecret, nil }
		if env != nil {
			secret = NewSecrets(env).Lookup
		}
		r.faults(d, c.check(secret))
		if env != nil {
			r.faults(d, c.checkOutside(env))
		}
	}
	return c, r.err()
}

// checkOutside returns the mistakes in what belongs to a configuration and is not in its file: the variables of the
// gateway local and the language files.
func (c *Config) checkOutside(env func(string) string) error {
	var l fault.List
	if len(c.Gateways) == 0 {
		_, err := c.Networks(env)
		l.Add("", err)
	}
	l.Add("", c.Texts.checkFiles())
	return l.Err()
}
