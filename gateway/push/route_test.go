package push_test

import (
	"slices"
	"strings"
	"testing"

	"rowbell/gateway/push"
)

func TestCheckRoutes(t *testing.T) {
	gateways := []string{"heron", "tern"}
	for _, tt := range []struct {
		name   string
		routes []push.Route
		want   string // part of the error; "" = the routes are valid
	}{
		{"none", nil, ""},
		{"two and the rest", []push.Route{{"+4477", gateways}, {"+44", gateways[1:]}, {"", gateways[:1]}}, ""},
		{"no plus", []push.Route{{"4477", gateways}}, `prefix of route 1: "4477"`},
		{"letters", []push.Route{{"+44", gateways}, {"+4x", gateways}}, "prefix of route 2"},
		{"a zero", []push.Route{{"+0", gateways}}, "prefix of route 1"},
		{"too long", []push.Route{{"+" + strings.Repeat("1", 16), gateways}}, "prefix of route 1"},
		{"twice", []push.Route{{"+44", gateways}, {"+44", gateways}}, `there is a route for "+44" already`},
		{"nowhere", []push.Route{{"+44", nil}}, "through of route 1: it needs"},
		{"unknown", []push.Route{{"+44", []string{"heron", "adze"}}}, `there is no gateway "adze"`},
		{"through one twice", []push.Route{{"+44", []string{"tern", "tern"}}}, `"tern" stands there twice`},
	} {
		err := push.CheckRoutes(tt.routes, gateways)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
	if push.RoutePrefixes(nil) == nil {
		t.Error("nil would mean the prefixes that the records have")
	}
	got := push.RoutePrefixes([]push.Route{{"+44", gateways}, {"", gateways}})
	if !slices.Equal(got, []string{"+44", ""}) {
		t.Errorf("prefixes %q", got)
	}
}
