package config

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Parse decodes a file over the values of Default. An unknown key or an invalid value is an error, which names the line
// and the key, or the setting.
func Parse(b []byte) (Config, error) {
	c := Default()
	err := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields().Decode(&c)
	var unknown *toml.StrictMissingError
	var wrong *toml.DecodeError
	switch {
	case errors.As(err, &unknown):
		return c, mistake(b, &unknown.Errors[0], "there is no setting of this name")
	case errors.As(err, &wrong):
		return c, mistake(b, wrong, explain(wrong.Error()))
	case err != nil:
		return c, err
	}
	return c, c.Validate()
}

// wrongType matches a message of the TOML decoder about a value of the wrong type. The message names a Go type.
var wrongType = regexp.MustCompile(`^toml: cannot decode TOML .* (?:of type|into) (\S+)$`)

// typeWords maps the Go type of a setting to words for an operator.
var typeWords = map[string]string{
	"string": "words in quotes", "int": "a whole number", "float64": "a number", "bool": "true or false",
	"config.Duration": `a time span such as "90m" or "24h"`, "profile.Span": `a time span such as "90m" or "24h"`,
	"[]string": `a list of words in quotes, such as ["en"]`, "[]int": "a list such as [3]",
}

// explain turns a message of the TOML decoder into words for an operator.
func explain(message string) string {
	found := wrongType.FindStringSubmatch(message)
	if found == nil {
		return explainSyntax(strings.TrimPrefix(message, "toml: "))
	}
	other := "a table, with a name for each value"
	if strings.HasPrefix(found[1], "[]") {
		other = "a list of tables"
	}
	return "this must be " + cmp.Or(typeWords[found[1]], other)
}

// explainSyntax replaces a message about a syntax error by advice on its usual cause. It returns other messages
// unchanged.
func explainSyntax(message string) string {
	for _, w := range []struct{ part, words string }{
		{"at start of value",
			"a value is words in quotes (\"), a number, true or false, a list in [ ] or a table in { }"},
		{"expected newline but got",
			"something stands behind the value: words have a quote (\") on both sides, " +
				"a number has a point and no comma"},
		{"basic strings cannot have new lines", "the quote (\") at the end is missing"},
		{"literal strings cannot have new lines", "the quote (') at the end is missing"},
		{"is already defined", "this is set twice: keep one"},
		{"already exists", "this table is there twice: put all of it into one"},
	} {
		if strings.Contains(message, w.part) {
			return w.words
		}
	}
	return message
}

// mistake returns an error with line, column, key and the text of the line. It leaves the text out if the line may hold
// a secret.
func mistake(b []byte, at *toml.DecodeError, what string) error {
	row, column := at.Position()
	key := strings.Join(at.Key(), ".")
	message := fmt.Sprintf("line %d, column %d: ", row, column)
	if key != "" {
		message += key + ": "
	}
	message += what
	lines := strings.Split(string(b), "\n")
	if row < 1 || row > len(lines) || mayHoldSecret(lines[:row], key) {
		return errors.New(message)
	}
	return fmt.Errorf("%s\n%s", message, strings.TrimRight(lines[row-1], "\r"))
}

// mayHoldSecret reports whether the last of lines belongs to a gateway or contains a URL. A URL may contain a password,
// and an operator may write a secret in place of the name of its environment variable.
func mayHoldSecret(lines []string, key string) bool {
	private := func(s string) bool { return strings.Contains(s, "push") || strings.Contains(s, "gateways") }
	last := lines[len(lines)-1]
	if private(key) || private(last) || strings.Contains(last, "://") {
		return true
	}
	for i := len(lines) - 1; i >= 0; i-- {
		if line := strings.TrimSpace(lines[i]); strings.HasPrefix(line, "[") {
			return private(line)
		}
	}
	return false
}
