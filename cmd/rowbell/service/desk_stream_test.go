package service

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
)

// Outside of practice nobody enters the desk without a password.
func TestDeskAsksForPasswords(t *testing.T) {
	s := start(t, configtest.Fresh(t, ""), time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC))
	for _, r := range []*http.Request{
		httptest.NewRequest(http.MethodPost, "/desk/practice/enter?name=op", nil),
		httptest.NewRequest(http.MethodGet, "/desk/practice/events", nil),
	} {
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if w.Code != http.StatusNotFound || len(w.Result().Cookies()) > 0 {
			t.Errorf("%s %s: %d, %v", r.Method, r.URL, w.Code, w.Result().Cookies())
		}
	}
}
