package config

import (
	"reflect"

	"rowbell/gateway/fault"
)

// Parse decodes a file over the values of Default. The error is of type Mistakes and has all mistakes with their lines.
func Parse(b []byte) (Config, error) { return parseWith(b, nil) }

// parseWith is Parse. With env, it also reports mistakes outside of the file: secrets of networks that the environment
// lacks, and mistakes in the language files.
func parseWith(b []byte, env func(string) string) (Config, error) {
	c := Default()
	r := &report{told: map[string]bool{}}
	d, whole := readDocument(b, r)
	r.conceal("", &node{value: d.root}, false)
	settings := reflect.ValueOf(&c).Elem()
	d.top = map[string]bool{}
	for _, f := range fieldsOf(settings, "") {
		d.top[f.path] = true
	}
	d.fillTable(settings, d.root, "")
	// Missing settings and contradictions are certain only if the whole file was read.
	if whole {
		secret := withoutSecrets
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

// checkOutside returns the mistakes outside of the file: in the environment variables of the gateway local and in the
// language files.
func (c *Config) checkOutside(env func(string) string) error {
	var l fault.List
	if len(c.Gateways) == 0 {
		_, err := c.Networks(env)
		l.Add("", err)
	}
	l.Add("", c.Texts.checkFiles())
	return l.Err()
}
