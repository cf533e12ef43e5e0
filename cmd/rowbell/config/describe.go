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

// setting describes one key of rowbell.toml.
type setting struct {
	path string
	// An example value in TOML. "" shows the value of Default; "default X" says that a missing key means X. Tables have
	// no value.
	value string
	about string // the explanation; "" if the same key of another gateway has it
}

// describedNames are the example gateways in settings. Together they have every key of a gateway.
var describedNames = []string{"heron", "marl", "sedge"}

// Describe writes a complete rowbell.toml with every setting commented out. An explanation begins with "# ", a setting
// with "#" and no space.
//
// The keys, their order and their tables come from the struct tags of Config, the default values from Default. The
// variable settings has the explanations and the example values; a test fails if a key is missing there.
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

// describedSettings returns the entries of the variable settings by their paths.
func describedSettings() map[string]setting {
	byPath := map[string]setting{}
	for _, s := range settings {
		byPath[s.path] = s
	}
	return byPath
}

type describer struct {
	b        strings.Builder
	settings map[string]setting
}

// commentWidth is the greatest length of a comment line, in characters.
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

// table writes the keys of a struct before its tables, because TOML counts every key below a table header as a key of
// that table.
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

// mentions reports whether the variable settings describes a key of the table with this path.
func (d *describer) mentions(path string) bool {
	return slices.ContainsFunc(settings, func(s setting) bool { return strings.HasPrefix(s.path, path+".") })
}

// key writes one setting. A key that is not in settings is skipped, because another gateway or the first place
// describes the same key.
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

// isTable reports whether a field is written as a TOML table with its own header.
func (d *describer) isTable(f field) bool {
	t := f.v.Type()
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	return (t.Kind() == reflect.Struct || t == reflect.TypeFor[Gateways]()) && d.settings[f.path].value == ""
}

// field is a struct field that the TOML decoder fills, with its path in the file.
type field struct {
	path string
	v    reflect.Value
}

// fieldsOf lists the fields of the struct at this path of the file. Fields of embedded structs count as fields of the
// struct.
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
