package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config"
)

var tomlBlock = regexp.MustCompile("(?s)```toml\n(.*?)```")

// The examples of rowbell.toml in the README are valid: the settings of the first
// block, and the other blocks together.
func TestReadmeConfiguration(t *testing.T) {
	b, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	var blocks []string
	for _, m := range tomlBlock.FindAllStringSubmatch(string(b), -1) {
		blocks = append(blocks, m[1])
	}
	if len(blocks) < 5 {
		t.Fatalf("%d blocks of configuration", len(blocks))
	}
	months := regexp.MustCompile(`(?s)(  \{ min_c.*?\},\n)  # \.\.\. twelve in all\n`)
	first := months.ReplaceAllStringFunc(blocks[0], func(s string) string {
		return strings.Repeat(months.FindStringSubmatch(s)[1], 12)
	})
	const heron = "\n[gateways.heron.push]\nurl = \"https://heron.example/parcels\"\n"
	secret := func(name string) string { // the secrets of the networks are in variables, none in a file
		if strings.HasPrefix(name, "ROWBELL_") || strings.HasSuffix(name, "_FILE") {
			return ""
		}
		return "reeds-by-the-water"
	}
	for name, file := range map[string]string{"settings": first, "edge": strings.Join(blocks[1:], "\n") + heron} {
		c, err := config.Parse([]byte(file))
		if err == nil {
			_, err = c.Networks(secret)
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
