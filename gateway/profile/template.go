package profile

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"text/template"
)

// newTemplate reads a template of the description.
func newTemplate(s string) (*template.Template, error) {
	t, err := template.New("").Option("missingkey=error").Funcs(functions).Parse(s)
	if err != nil {
		return nil, errors.New(templateWords(strings.TrimPrefix(err.Error(), "template: :")))
	}
	return t, nil
}

// fill fills a template in. The error repeats nothing of it but the name of a
// value that there is not.
func fill(t *template.Template, data any) (string, error) {
	var b strings.Builder
	err := t.Execute(&b, data)
	if err == nil {
		return b.String(), nil
	}
	if found := noValue.FindStringSubmatch(err.Error()); found != nil {
		return "", fmt.Errorf("there is no .%s here; there are %s", found[1], values(data))
	}
	return "", errors.New("the template cannot be filled in")
}

var (
	noValue    = regexp.MustCompile(`can't evaluate field (\w+) in type`)
	noFunction = regexp.MustCompile(`function "(\w+)" not defined`)
)

// values lists what a template may use.
func values(data any) string {
	var names []string
	for _, f := range reflect.VisibleFields(reflect.TypeOf(data)) {
		names = append(names, "."+f.Name)
	}
	return strings.Join(names, ", ")
}

// templateWords tells of a slip in a template in the words of whoever wrote
// it. What it does not know it leaves as it was said.
func templateWords(said string) string {
	if found := noFunction.FindStringSubmatch(said); found != nil {
		return fmt.Sprintf("there is no function %q; a value has a dot before its name, as in {{.Text}}", found[1])
	}
	for _, w := range []struct{ said, words string }{
		{"unexpected EOF", "an {{if}} has no {{end}}"},
		{"unexpected {{end}}", "an {{end}} has no {{if}}"},
		{"unexpected {{else}}", "an {{else}} has no {{if}}"},
		{"unclosed action", "a {{ has no }} after it"},
		{"bad character U+007D", "a {{ has only one } after it"},
		{`unexpected "}" in`, "a {{ has only one } after it"},
	} {
		if strings.Contains(said, w.said) {
			return w.words
		}
	}
	return said
}
