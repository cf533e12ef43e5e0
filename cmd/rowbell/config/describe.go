package config

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
)

// setting describes a key of rowbell.toml: what it is for, and a value to show.
// The name of a gateway is part of its keys' paths.
type setting struct {
	path  string
	value string // TOML; "": the value of Default; "default X": X is what holds without the key; tables have none
	about string // "" where the same key of another gateway has it
}

// describedNames are the gateways that settings describe, in order: between
// them they have every key of a gateway.
var describedNames = []string{"heron", "marl"}

// Describe writes a whole rowbell.toml in which every setting is commented out:
// a comment begins with "# ", a setting with "#" alone.
//
// The keys, their order and their tables are those of Config, by the same struct
// tags that Load decodes by; defaults are those of Default. Only the comments
// and examples stand in settings, and a test finds a key without them.
func Describe(w io.Writer) error {
	d := describer{settings: describedSettings()}
	d.comment("rowbell.toml: all settings of rowbell. None is needed. Remove the # before a setting, and before the " +
		"table in [ ] that it stands in, to set it. A setting that is marked default shows the value that holds " +
		"without it; the others show an example. Secrets never stand here: they come from environment variables.")
	d.b.WriteString("\n")
	d.table("", reflect.ValueOf(Default()))
	_, err := io.WriteString(w, d.b.String())
	return err
}

// describedSettings are the settings by their paths.
func describedSettings() map[string]setting {
	byPath := map[string]setting{}
	for _, s := range settings {
		byPath[s.path] = s
	}
	return byPath
}

// describer writes tables and keys in the order of the struct that is decoded.
type describer struct {
	b        strings.Builder
	settings map[string]setting
}

// commentWidth is where lines of comments are broken.
const commentWidth = 96

func (d *describer) comment(text string) {
	line := "#"
	for word := range strings.FieldsSeq(text) {
		if len(line)+1+len(word) > commentWidth {
			d.b.WriteString(line + "\n")
			line = "#"
		}
		line += " " + word
	}
	if line != "#" {
		d.b.WriteString(line + "\n")
	}
}

// table writes the keys of a struct, and then its tables: TOML takes a key after
// a table's header for one of that table.
func (d *describer) table(path string, v reflect.Value) {
	var tables []field
	for _, f := range fieldsOf(v, path) {
		if d.isTable(f) {
			tables = append(tables, f)
		} else {
			d.key(f)
		}
	}
	for _, f := range tables {
		if f.v.Type() == reflect.TypeFor[Gateways]() {
			d.header(f.path, "")
			for _, name := range describedNames {
				d.subtable(f.path+"."+name, reflect.New(f.v.Type().Elem()).Elem(), "[%s]")
			}
			continue
		}
		if f.v.Kind() == reflect.Slice {
			d.subtable(f.path, reflect.New(f.v.Type().Elem()).Elem(), "[[%s]]")
			continue
		}
		d.subtable(f.path, f.v, "[%s]")
	}
}

func (d *describer) subtable(path string, v reflect.Value, brackets string) {
	for v.Kind() == reflect.Pointer {
		if v.IsNil() {
			v = reflect.New(v.Type().Elem())
		}
		v = v.Elem()
	}
	if !d.mentions(path) {
		return
	}
	d.header(path, fmt.Sprintf(brackets, path))
	d.table(path, v)
}

func (d *describer) header(path, header string) {
	d.b.WriteString("\n")
	d.comment(d.settings[path].about)
	if header != "" {
		d.b.WriteString("#" + header + "\n")
	}
}

// mentions reports whether settings has a key of a table.
func (d *describer) mentions(path string) bool {
	return slices.ContainsFunc(settings, func(s setting) bool { return strings.HasPrefix(s.path, path+".") })
}

// key writes one setting. A key that is described elsewhere, for another gateway
// or place, may be left out.
func (d *describer) key(f field) {
	s, ok := d.settings[f.path]
	if !ok {
		return
	}
	d.comment(s.about)
	value, isDefault := strings.CutPrefix(s.value, "default ")
	if value == "" {
		value, isDefault = tomlValue(f.v), true
	}
	name := f.path[strings.LastIndex(f.path, ".")+1:]
	d.b.WriteString("#" + name + " = " + strings.ReplaceAll(value, "\n", "\n#"))
	if isDefault {
		d.b.WriteString("  # default")
	}
	d.b.WriteString("\n")
}

// isTable reports whether a field is written as a table, not as a value.
func (d *describer) isTable(f field) bool {
	t := f.v.Type()
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	return (t.Kind() == reflect.Struct || t == reflect.TypeFor[Gateways]()) && d.settings[f.path].value == ""
}

// field is a field of a struct that the decoder knows, with its path in the
// file.
type field struct {
	path string
	v    reflect.Value
}

// fieldsOf lists the fields of a struct under its path, those of embedded
// structs among them.
func fieldsOf(v reflect.Value, path string) []field {
	var list []field
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Anonymous {
			list = append(list, fieldsOf(v.Field(i), path)...)
			continue
		}
		name := f.Tag.Get("toml")
		if path != "" {
			name = path + "." + name
		}
		list = append(list, field{name, v.Field(i)})
	}
	return list
}

// tomlValue writes a string, number, bool or Duration as TOML.
func tomlValue(v reflect.Value) string {
	switch x := v.Interface().(type) {
	case string:
		return strconv.Quote(x)
	case Duration:
		s := time.Duration(x).String() // 72h0m0s
		s = strings.TrimSuffix(s, "0s")
		if strings.HasSuffix(s, "h0m") {
			s = strings.TrimSuffix(s, "0m")
		}
		return strconv.Quote(s)
	}
	return fmt.Sprint(v.Interface())
}
