package desk_test

import (
	"net/http"
	"strings"
	"testing"

	"rowbell/gateway/desk"
	"rowbell/store"
)

// maxPageOctets is how long a page may be, so that it opens on a slow line.
const maxPageOctets = 100_000

// Pages stay short where there are many growers: a list has so many rows and no more, and a link to the next ones.
func TestPagesAreShort(t *testing.T) {
	crowd := openCrowd(t, 2000)
	for name, v := range map[string]*valley{"the valley": openValley(t), "2000 growers": crowd} {
		c, checked := v.as("operator"), 0
		paths := v.paths(store.DefaultPlace)
		for _, route := range desk.Routes() {
			method, pattern, _ := strings.Cut(route, " ")
			if method != "GET" {
				continue
			}
			got := c.get(paths.Replace(pattern))
			if !strings.HasPrefix(got.kind, "text/html") {
				continue
			}
			if n := len(got.body); n > maxPageOctets {
				t.Errorf("%s: %s has %d octets; at most %d", name, pattern, n, maxPageOctets)
			}
			if got.status == http.StatusOK {
				checked++
			}
		}
		if checked < 5 {
			t.Errorf("%s: only %d pages were looked at", name, checked)
		}
	}
}
