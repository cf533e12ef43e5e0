package answer

import (
	"slices"
	"strings"
	"testing"
)

func TestDialled(t *testing.T) {
	for _, c := range []struct {
		dialled, code string
		want          []string // nil if the dialled string is not a path under the code
	}{
		{"*123*1*5#", "*123#", []string{"1", "5"}}, {"*123*1*5", "*123#", []string{"1", "5"}},
		{" *123*1#\n", "*123#", []string{"1"}}, {"*123*1**5#", "*123#", []string{"1", "", "5"}},
		{"*123*45*1#", "*123*45#", []string{"1"}}, {"*123*20x30#", "*123#", []string{"20x30"}},
		{"*123#", "*123#", nil}, {"*123*#", "*123#", nil}, {"*123*45#", "*123*45#", nil}, {"*1234*1#", "*123#", nil},
		{"*12*1#", "*123#", nil}, {"123*1#", "*123#", nil}, {"*123*1#2#", "*123#", nil}, {"*123*1##", "*123#", nil},
		{"", "*123#", nil}, {"*1#", "#", nil}, {"*1#", "", nil},
	} {
		if got, ok := Dialled(c.dialled, c.code); ok != (c.want != nil) || !slices.Equal(got, c.want) {
			t.Errorf("%q under %q: %q, %v; want %q", c.dialled, c.code, got, ok, c.want)
		}
	}
}

func FuzzDialled(f *testing.F) {
	seed(f, "dialled")
	f.Fuzz(func(t *testing.T, dialled string) {
		entries, ok := Dialled(dialled, "*123#")
		if ok != (len(entries) > 0) {
			t.Fatalf("%q: %q, %v", dialled, entries, ok)
		}
		if ok && "*123*"+strings.Join(entries, "*") != strings.TrimSuffix(strings.TrimSpace(dialled), "#") {
			t.Fatalf("%q was taken apart into %q", dialled, entries)
		}
	})
}
