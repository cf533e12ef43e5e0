package problem_test

import (
	"net/http/httptest"
	"testing"

	"rowbell/gateway/problem"
)

func TestWrite(t *testing.T) {
	for _, tt := range []struct {
		name      string
		p         *problem.Problem
		body, err string
	}{
		{"plain", problem.New(404, ""), `{"type":"about:blank","title":"Not Found","status":404}`, "Not Found"},
		{
			"a field", problem.New(400, `Needs "text".`).At("/text"),
			`{"type":"about:blank","title":"Bad Request","status":400,"detail":"Needs \"text\".",` +
				`"errors":[{"detail":"Needs \"text\".","pointer":"/text"}]}`,
			`Bad Request: Needs "text".`,
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			tt.p.Write(w)
			contentType := w.Header().Get("Content-Type")
			if w.Code != tt.p.Status || contentType != problem.MediaType || w.Body.String() != tt.body {
				t.Errorf("%d %s %s\nwant %s", w.Code, contentType, w.Body, tt.body)
			}
			if tt.p.Error() != tt.err {
				t.Errorf("Error() = %q, want %q", tt.p.Error(), tt.err)
			}
		})
	}
}
