package config

import (
	"cmp"
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/hbollon/go-edlib"

	"rowbell/gateway/profile"
)

// fill puts the values of the file into the settings at v, and reports unknown keys and values of the wrong type. The
// names of the keys come from the struct tags.
func (d *document) fill(v reflect.Value, n *node) {
	if v.Kind() == reflect.Pointer {
		p := reflect.New(v.Type().Elem())
		if !v.IsNil() {
			p = v
		}
		d.fill(p.Elem(), n)
		v.Set(p)
		return
	}
	if words, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		s, isString := n.value.(string)
		if !isString {
			d.wrongType(v, n)
		} else if err := words.UnmarshalText([]byte(s)); err != nil {
			d.report.add(n.at, n.path, err.Error())
		}
		return
	}
	if n.value == nil {
		return // a number that could not be read, which is reported
	}
	switch v.Kind() {
	case reflect.Struct:
		if t, ok := n.value.(*table); ok {
			d.fillTable(v, t, n.path)
			return
		}
	case reflect.Map:
		if t, ok := n.value.(*table); ok {
			d.fillMap(v, t)
			return
		}
	case reflect.Slice:
		if list, ok := n.value.([]*node); ok {
			v.Set(reflect.MakeSlice(v.Type(), len(list), len(list)))
			for i, entry := range list {
				d.fill(v.Index(i), entry)
			}
			return
		}
	case reflect.Float64:
		if whole, ok := n.value.(int64); ok {
			v.SetFloat(float64(whole))
			return
		}
		fallthrough
	default:
		value := reflect.ValueOf(n.value)
		if value.Kind() == v.Kind() || value.Kind() == reflect.Int64 && v.Kind() == reflect.Int {
			v.Set(value.Convert(v.Type()))
			return
		}
	}
	d.wrongType(v, n)
}

func (d *document) fillMap(v reflect.Value, t *table) {
	if v.IsNil() {
		v.Set(reflect.MakeMap(v.Type()))
	}
	for _, k := range t.keys {
		one := reflect.New(v.Type().Elem()).Elem()
		d.fill(one, k.node)
		v.SetMapIndex(reflect.ValueOf(k.name), one)
	}
}

func (d *document) fillTable(v reflect.Value, t *table, path string) {
	fields := fieldsOf(v, "")
	for _, k := range t.keys {
		known := false
		for _, f := range fields {
			if f.path == k.name {
				known = true
				d.fill(f.v, k.node)
			}
		}
		if !known {
			d.unknown(k, fields, path)
		}
	}
}

// unknown reports a key that is no setting, and suggests the setting that was likely meant or the table of the key.
func (d *document) unknown(k *tableKey, fields []field, path string) {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.path
	}
	meant, _ := nearest(k.name, names)
	what := "there is no setting of this name"
	if name, in := strings.CutPrefix(path, "gateways."); in && isCallTable(name) {
		d.report.add(k.key, path, "name the network: [gateways.NAME."+name+"]")
		d.report.unread(path)
		return
	}
	switch {
	case meant != "":
		what += fmt.Sprintf("; did you mean %s?", meant)
		d.report.meant(join(path, meant))
	case path != "" && d.top[k.name]:
		what += " here; it must stand before the first table in [ ]"
	default:
		what += d.elsewhere(k.name, path)
	}
	d.report.add(k.key, k.path, what)
}

// elsewhere says where a key that is no setting of the table path belongs, or returns "".
func (d *document) elsewhere(name, path string) string {
	tables := tablesWith(name, path)
	switch {
	case path == "" && isCallTable(name):
		return "; of a network it is [gateways.NAME." + name + "]"
	case path == "" && d.nodes[join("gateways", name)] != nil:
		return "; of the network it is [gateways." + name + "] and the tables below it"
	case len(tables) > 0:
		return " here; it belongs in [" + strings.Join(tables, "], [") + "]"
	}
	return ""
}

// isCallTable reports whether this is the name of a table that belongs to a network.
func isCallTable(name string) bool {
	return slices.Contains([]string{"trust", "ussd", "sms", "receipt"}, name)
}

// tablesWith returns the tables that have a setting of this name: those of the network in which path is, or else those
// outside of networks.
func tablesWith(name, path string) (tables []string) {
	root, spec := "", reflect.TypeFor[Config]()
	if parts := strings.Split(path, "."); parts[0] == "gateways" && len(parts) > 1 {
		root, spec = parts[0]+"."+parts[1], reflect.TypeFor[profile.Spec]()
	}
	var walk func(t reflect.Type, at string)
	walk = func(t reflect.Type, at string) {
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return
		}
		for _, f := range fieldsOf(reflect.New(t).Elem(), "") {
			if f.path == name && at != "" {
				tables = append(tables, at)
			}
			walk(f.v.Type(), join(at, f.path))
		}
	}
	walk(spec, root)
	slices.Sort(tables)
	return slices.Compact(tables)
}

// Meant returns the word that name likely misspells. It returns "" if there is none, or if name is one of the words.
func Meant(name string, words []string) string {
	word, distance := nearest(name, words)
	if distance == 0 {
		return ""
	}
	return word
}

// maxDistance is the greatest edit distance between a misspelt name and the word that is suggested instead.
const maxDistance = 2

// nearest returns the word with the smallest edit distance from name, or "" if no word is near enough. Capital and
// small letters count as equal.
func nearest(name string, words []string) (word string, distance int) {
	distance = maxDistance + 1
	for _, w := range words {
		d := edlib.OSADamerauLevenshteinDistance(strings.ToLower(name), strings.ToLower(w))
		if d < distance && d < len(w)-1 {
			word, distance = w, d
		}
	}
	return word, distance
}

// typeWords maps the Go type of a setting to words for an operator.
var typeWords = map[string]string{
	"string": "words in quotes", "int": "a whole number", "float64": "a number", "bool": "true or false",
	"config.Duration": `a time span such as "90m" or "24h"`, "profile.Span": `a time span such as "90m" or "24h"`,
	"profile.ReplySpec":   `a table such as { type = "text/plain", body = "ok" }`,
	"profile.SuccessSpec": `a table such as { at = "/fate", is = ["taken"] }`,
	"[]string":            `a list of words in quotes, such as ["en"]`, "[]int": "a list such as [3]",
}

// wrongType reports a value that is not of the type of its setting.
func (d *document) wrongType(v reflect.Value, n *node) {
	other := "a table, with a name for each value"
	_, isTable := n.value.(*table)
	_, isList := n.value.([]*node)
	switch {
	case v.Kind() == reflect.Slice && isTable:
		other = "a list of tables: [[ ]] in place of [ ]"
	case v.Kind() == reflect.Slice:
		other = "a list of tables"
	case isList:
		other = "one table: [ ] in place of [[ ]]"
	}
	d.report.add(n.at, n.path, "this must be "+cmp.Or(typeWords[v.Type().String()], other))
	d.report.unread(n.path)
}
