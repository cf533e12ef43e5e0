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

// Parse decodes the content of a file. Keys that are missing in the file have the values of Default. An unknown key is
// an error, and an invalid value is an error. The error names the line and the key if the TOML decoder knows them;
// otherwise the error names the setting.
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

// wrongType matches the TOML decoder's message about a value of the wrong type. The message names a Go type, which an
// operator does not know.
var wrongType = regexp.MustCompile(`^toml: cannot decode TOML .* (?:of type|into) (\S+)$`)

// typeWords maps the Go type of a setting to words for an operator.
var typeWords = map[string]string{
	"string": "words in quotes", "int": "a whole number", "float64": "a number", "bool": "true or false",
	"config.Duration": `a time span such as "90m" or "24h"`, "profile.Span": `a time span such as "90m" or "24h"`,
	"[]string": `a list of words in quotes, such as ["en"]`, "[]int": "a list such as [3]",
}

// explain turns a message of the TOML decoder into words that an operator understands.
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

// explainSyntax turns the decoder's message about a syntax error into advice on the usual cause. An unknown message is
// returned unchanged.
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

// mistake returns an error with the line number, the column, the key and the text of the line that has the mistake. The
// text of the line is left out if the line may hold a secret: the URL of a gateway may contain a password, and an
// operator may have written a secret where the name of its environment variable belongs.
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

// mayHoldSecret reports whether the last of the lines, which has the mistake, belongs to a table or a key of a gateway,
// or contains a URL. The argument key is the key of that line.
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
