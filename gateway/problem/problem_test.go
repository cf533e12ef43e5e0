package problem_test

import (
	"encoding/json"
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
			if w.Code != tt.p.Status {
				t.Errorf("status %d, the document says %d", w.Code, tt.p.Status)
			}
			if got := w.Header().Get("Content-Type"); got != problem.MediaType {
				t.Errorf("content type %q", got)
			}
			if w.Body.String() != tt.body {
				t.Errorf("body %s\nwant %s", w.Body, tt.body)
			}
			if !json.Valid(w.Body.Bytes()) {
				t.Error("not JSON")
			}
			if tt.p.Error() != tt.err {
				t.Errorf("Error() = %q, want %q", tt.p.Error(), tt.err)
			}
		})
	}
}
