package config

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// commented are the lines of Commented.
var commented = strings.Split(Commented, "\n")

var settingLine = regexp.MustCompile(`^#[^ ]`)

var tableLine = regexp.MustCompile(`^#\[+([a-z._]+)\]+$`)

// uncommented uncomments all settings, except those in the tables that leave names.
func uncommented(lines []string, leave ...string) string {
	table := ""
	var b strings.Builder
	for _, line := range lines {
		if m := tableLine.FindStringSubmatch(line); m != nil {
			table, _, _ = strings.Cut(m[1], ".")
		}
		if settingLine.MatchString(line) && !slices.Contains(leave, table) {
			line = line[1:]
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}

// secret is an environment with a secret of every gateway except local.
func secret(name string) string {
	if strings.HasPrefix(name, "ROWBELL_") || strings.HasSuffix(name, "_FILE") {
		return ""
	}
	return anySecret
}

// collect adds the paths of the keys in decoded TOML. Elements of lists have the
// path of the list, and all gateways have one path.
func collect(v any, path string, have map[string]bool) {
	switch v := v.(type) {
	case []any:
		for _, element := range v {
			collect(element, path, have)
		}
	case map[string]any:
		for name, value := range v {
			if path == ".gateways" {
				name = "NAME"
			}
			have[path+"."+name] = true
			collect(value, path+"."+name, have)
		}
	}
}

// compare looks up the keys of a type below path in have. A key of a gateway is
// found if any table of the same Go type has it.
func compare(t reflect.Type, path string, have, found map[string]bool) {
	for ; t.Kind() != reflect.Struct; t = t.Elem() {
		switch t.Kind() {
		case reflect.Map:
			path += ".NAME"
		case reflect.Pointer, reflect.Slice, reflect.Array:
		default:
			return
		}
	}
	for f := range t.Fields() {
		if f.Anonymous {
			if path != ".places" { // a further place has the keys of [place]
				compare(f.Type, path, have, found)
			}
			continue
		}
		below := path + "." + f.Tag.Get("toml")
		key := below
		if strings.HasPrefix(path, ".gateways.") {
			key = t.String() + "." + f.Name
		}
		found[key] = found[key] || have[below]
		compare(f.Type, below, have, found)
	}
}

// The commented file changes nothing, and with its settings uncommented it loads
// and has every key that the loader knows.
func TestCommentedHasEveryKey(t *testing.T) {
	if c := parse(t, Commented); !reflect.DeepEqual(c, Default()) {
		t.Errorf("as it is written it sets %+v", c)
	}
	have := map[string]bool{}
	for _, leave := range [][]string{{"push"}, {"gateways", "routes"}} { // [push] excludes [gateways]
		file := uncommented(commented, leave...)
		c := parse(t, file)
		if _, err := c.Networks(secret); err != nil {
			t.Fatalf("without %s: %v", leave, err)
		}
		var decoded map[string]any
		ok(t, toml.Unmarshal([]byte(file), &decoded))
		collect(decoded, "", have)
	}
	found := map[string]bool{}
	compare(reflect.TypeFor[Config](), "", have, found)
	for key, ok := range found {
		if !ok {
			t.Errorf("no line sets %s", key)
		}
	}
	if len(found) < 120 {
		t.Errorf("only %d keys were compared", len(found))
	}
}

// A line that is marked default changes nothing when it is uncommented; the other
// lines are uncommented too, so that the value has an effect.
func TestCommentedShowsTheDefaultsInUse(t *testing.T) {
	effect := func(lines []string, leave ...string) string {
		t.Helper()
		c := parse(t, uncommented(lines, leave...))
		networks, err := c.Networks(secret)
		ok(t, err)
		nights, hour := c.Backup.Nights(), c.Backup.DueHour()
		c.Gateways, c.Backup, c.Push = nil, nil, nil // their effect is in networks, nights and hour
		for i := range networks {
			networks[i].Token = [32]byte{}
		}
		seen := map[uintptr]bool{}
		return fmt.Sprint(nights, hour, dump(reflect.ValueOf(c), seen), dump(reflect.ValueOf(networks), seen))
	}
	with := map[string]string{}
	checked := 0
	table := ""
	for i, line := range commented {
		if m := tableLine.FindStringSubmatch(line); m != nil {
			table = m[1]
		}
		if !strings.HasSuffix(line, "  # default") {
			continue
		}
		leave := "push"
		if table == "push" {
			leave = "gateways routes"
		}
		if with[leave] == "" {
			with[leave] = effect(commented, strings.Fields(leave)...)
		}
		without := slices.Delete(slices.Clone(commented), i, i+1)
		if got := effect(without, strings.Fields(leave)...); got != with[leave] {
			t.Errorf("[%s] %s is not the default", table, line)
		}
		checked++
	}
	if checked < 30 {
		t.Errorf("only %d defaults were checked", checked)
	}
}

// dump writes a value with all values below it: those of unexported fields, and
// those that pointers point to. seen holds the pointers that were followed.
func dump(v reflect.Value, seen map[uintptr]bool) string {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return "nil"
		}
		if v.Kind() == reflect.Pointer {
			if seen[v.Pointer()] {
				return "seen"
			}
			seen[v.Pointer()] = true
		}
		return dump(v.Elem(), seen)
	case reflect.Struct:
		s := v.Type().String() + "{"
		for i := range v.NumField() {
			s += v.Type().Field(i).Name + ":" + dump(v.Field(i), seen) + " "
		}
		return s + "}"
	case reflect.Slice, reflect.Array:
		s := "["
		for i := range v.Len() {
			s += dump(v.Index(i), seen) + " "
		}
		return s + "]"
	case reflect.Map:
		return fmt.Sprintf("map of %d", v.Len())
	case reflect.Func, reflect.Chan:
		return v.Type().String()
	}
	return fmt.Sprint(v)
}
