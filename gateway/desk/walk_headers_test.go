package desk_test

import (
	"net/http"
	"strings"
	"testing"

	"rowbell/gateway/desk"
	"rowbell/store"
)

// headers are what every answer has: OWASP Secure Headers Project and Session Management Cheat Sheet (from memory). The
// policy lets no inline script or style and nothing of another site run.
var headers = map[string]string{
	"X-Content-Type-Options":       "nosniff",
	"X-Frame-Options":              "DENY",
	"Referrer-Policy":              "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Cache-Control":                "no-store",
}

// Every route answers with the headers that protect its reader, also when it refuses. A cookie belongs to this host
// alone and is not given to scripts.
func TestHeaders(t *testing.T) {
	for _, account := range []string{"", "viewer", "operator"} {
		v := openValley(t)
		paths := v.paths(store.DefaultPlace)
		for _, route := range append(desk.Routes(), "GET /desk/nothing-here", "POST /desk/login") {
			method, pattern, _ := strings.Cut(route, " ")
			got := v.as(account).send(method, paths.Replace(pattern), "", nil)
			for name, want := range headers {
				if value := got.header.Get(name); value != want {
					t.Errorf("%s, %q: %s is %q, want %q", route, account, name, value, want)
				}
			}
			policy := got.header.Get("Content-Security-Policy")
			if !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "script-src 'self'") ||
				!strings.Contains(policy, "frame-ancestors 'none'") || strings.Contains(policy, "unsafe") {
				t.Errorf("%s, %q: the policy is %q", route, account, policy)
			}
			for _, cookie := range (&http.Response{Header: got.header}).Cookies() {
				own := strings.HasPrefix(cookie.Name, "__Host-") && cookie.Path == "/" && cookie.Domain == ""
				if !own || !cookie.Secure || !cookie.HttpOnly || cookie.SameSite == http.SameSiteNoneMode {
					t.Errorf("%s, %q: the cookie %s", route, account, cookie.Raw)
				}
			}
		}
	}
}
