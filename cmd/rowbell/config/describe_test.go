package config

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func described(t *testing.T) []string {
	t.Helper()
	var b bytes.Buffer
	ok(t, Describe(&b))
	return strings.Split(b.String(), "\n")
}

// settingLine matches a line with a setting: # without a space after it.
var settingLine = regexp.MustCompile(`^#[^ ]`)

var tableLine = regexp.MustCompile(`^#\[+([a-z._]+)\]+$`)

// uncommented joins the lines and removes the # before every setting, except in the tables named in leave.
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
	// The example of a public key is none, so that nobody encrypts backups to a key that nobody has.
	return strings.Replace(b.String(), "age1...", "age19m2w7nlyf96s6pgvjj9wck7ncet6yu385lyl0rdy0x6jjdn50d5ssm7a3e", 1)
}

func secret(name string) string {
	if strings.HasPrefix(name, "ROWBELL_") || strings.HasSuffix(name, "_FILE") {
		return ""
	}
	return anySecret
}

// unset visits all structs below v and records which fields no struct sets. zero["type.field"] is true if all structs
// of the type, in this call and in earlier calls, have the zero value in the field.
func unset(v reflect.Value, zero map[string]bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			unset(v.Elem(), zero)
		}
	case reflect.Slice:
		for i := range v.Len() {
			unset(v.Index(i), zero)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			unset(v.MapIndex(k), zero)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if name := v.Type().String() + "." + f.Name; !v.Field(i).IsZero() {
				zero[name] = false
			} else if _, known := zero[name]; !known {
				zero[name] = true
			}
			unset(v.Field(i), zero)
		}
	}
}

// paths lists the keys of rowbell.toml below v, without the keys of [gateways] and of the further places, [[places]].
func paths(v reflect.Value, path string) (list []string) {
	for _, f := range fieldsOf(v, path) {
		t := f.v.Type()
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice && t != reflect.TypeFor[[]Month]() {
			t = t.Elem()
		}
		switch {
		case f.path == "places", f.path == "gateways":
		case t.Kind() == reflect.Struct:
			list = append(list, paths(reflect.New(t).Elem(), f.path)...)
		default:
			list = append(list, f.path)
		}
	}
	return list
}

// The output of Describe is a valid file that changes no setting. With all settings uncommented, it is also valid and
// sets every key that Load knows.
func TestDescribeHasEveryKey(t *testing.T) {
	lines := described(t)
	c, err := Parse([]byte(strings.Join(lines, "\n")))
	if err != nil || !reflect.DeepEqual(c, Default()) {
		t.Errorf("as it is written it sets %+v, %v", c, err)
	}
	zero := map[string]bool{}
	// Two runs: a file with [push] may not have [gateways].
	for _, leave := range [][]string{{"push"}, {"gateways", "routes"}} {
		c, err := Parse([]byte(uncommented(lines, leave...)))
		if err == nil {
			_, err = c.Networks(secret)
		}
		if err != nil {
			t.Fatalf("without %s: %v", leave, err)
		}
		unset(reflect.ValueOf(c), zero)
	}
	for name, missing := range zero {
		if missing {
			t.Errorf("%s is not set by any line", name)
		}
	}
	described := describedSettings()
	own := paths(reflect.ValueOf(Default()), "")
	for _, path := range own {
		if _, ok := described[path]; !ok {
			t.Errorf("%s is not described", path)
		}
	}
	if len(zero) < 120 || len(own) < 60 {
		t.Errorf("only %d and %d keys were checked", len(zero), len(own))
	}
	for _, line := range lines {
		if len(line) > 120 {
			t.Errorf("%d columns: %s", len(line), line)
		}
	}
}

// A line marked "default" shows the value that is used without the line. So deleting such a line changes nothing.
func TestDescribeShowsTheDefaultsInUse(t *testing.T) {
	lines := described(t)
	effect := func(lines []string, leave ...string) string {
		t.Helper()
		c := parse(t, uncommented(lines, leave...))
		networks, err := c.Networks(secret)
		ok(t, err)
		c.Gateways = nil // compared below as networks
		b := *c.Backup
		nights, hour := b.Nights(), b.DueHour()
		c.Backup, c.Push = nil, nil
		for i := range networks {
			networks[i].Token = [32]byte{}
		}
		seen := map[uintptr]bool{}
		return fmt.Sprint(nights, hour, dump(reflect.ValueOf(c), seen), dump(reflect.ValueOf(networks), seen))
	}
	with := map[string]string{}
	checked := 0
	for i, line := range lines {
		leave := "push"
		if !strings.HasSuffix(line, "  # default") {
			continue
		}
		table := ""
		for _, before := range lines[:i] {
			if m := tableLine.FindStringSubmatch(before); m != nil {
				table = m[1]
			}
		}
		if table == "push" {
			leave = "gateways routes"
		}
		if with[leave] == "" {
			with[leave] = effect(lines, strings.Fields(leave)...)
		}
		without := slices.Delete(slices.Clone(lines), i, i+1)
		if got := effect(without, strings.Fields(leave)...); got != with[leave] {
			t.Errorf("[%s] %s is not the default", table, line)
		}
		checked++
	}
	if checked < 30 {
		t.Errorf("only %d defaults were checked", checked)
	}
}

// dump writes a value with its unexported fields and the targets of its pointers.
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
