// Package service imports package manual, so these tests are outside of it.
package manual_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/errors"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"
	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/cmd/rowbell/service"
	"rowbell/gateway/clock"
	_ "rowbell/store/testrun" // temporary folders in memory, and garbage collected more rarely
)

const wireToken = "token-of-the-wire-test"

// wire is a running service with the OpenAPI file that describes its wire format.
type wire struct {
	t        *testing.T
	model    *v3.Document
	validate validator.Validator
	service  *service.Service
}

// newWire starts a service that pushes its texts to the URL push. The OpenAPI file must be valid.
func newWire(t *testing.T, push, toml string) *wire {
	t.Helper()
	file, err := os.ReadFile("wire.openapi.yaml")
	configtest.OK(t, err)
	doc, err := libopenapi.NewDocument(file)
	configtest.OK(t, err)
	model, err := doc.BuildV3Model()
	configtest.OK(t, err)
	v, errs := validator.NewValidator(doc)
	if errs != nil {
		t.Fatal(errs)
	}
	if ok, errs := v.ValidateDocument(); !ok {
		t.Fatal(explain(errs))
	}
	env := map[string]string{"ROWBELL_TOKEN_LOCAL": wireToken, "ROWBELL_PUSH_LOCAL": push}
	c := configtest.Fresh(t, toml+"\n[texts]\nlanguages = [\"en\", \"sw\"]\n")
	networks, err := c.Networks(func(name string) string { return env[name] })
	configtest.OK(t, err)
	s, err := service.Start(t.Context(), c, service.Options{Networks: networks, Clock: clock.New(configtest.SampleTime),
		Log: zerolog.Nop()})
	configtest.OK(t, err)
	t.Cleanup(func() { configtest.OK(t, s.Close()) })
	return &wire{t: t, model: &model.Model, validate: v, service: s}
}

func explain(errs []*errors.ValidationError) string {
	var b strings.Builder
	for _, e := range errs {
		fmt.Fprintf(&b, "%s: %s\n", e.Message, e.Reason)
		for _, s := range e.SchemaValidationErrors {
			fmt.Fprintf(&b, "  %s: %s\n", s.FieldPath, s.Reason)
		}
	}
	return b.String()
}

// call sends a request and returns the response. The OpenAPI file must allow the response and, unless bad is set, the
// request.
func (w *wire) call(name string, bad bool, r *http.Request) *http.Response {
	w.t.Helper()
	body, err := io.ReadAll(r.Body)
	configtest.OK(w.t, err)
	fresh := func() *http.Request {
		c := r.Clone(r.Context())
		c.Body = io.NopCloser(bytes.NewReader(body))
		return c
	}
	if ok, errs := w.validate.ValidateHttpRequest(fresh()); !ok && !bad {
		w.t.Errorf("%s: the file refuses the request: %s", name, explain(errs))
	}
	out := httptest.NewRecorder()
	w.service.Handler().ServeHTTP(out, fresh())
	answer := out.Body.Bytes()
	resp := out.Result()
	resp.Body = io.NopCloser(bytes.NewReader(answer))
	if ok, errs := w.validate.ValidateHttpResponse(fresh(), resp); !ok {
		w.t.Errorf("%s: the file refuses the answer %d %v %s: %s", name, out.Code, out.Header(), answer, explain(errs))
	}
	resp.Body = io.NopCloser(bytes.NewReader(answer))
	return resp
}

func wireRequest(path, contentType, body string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	r.Header.Set("Authorization", "Bearer "+wireToken)
	return r
}

func encode(t *testing.T, contentType string, example *base.Example) string {
	t.Helper()
	var v map[string]any
	configtest.OK(t, example.Value.Decode(&v))
	if contentType == "application/json" {
		b, err := json.Marshal(v)
		configtest.OK(t, err)
		return string(b)
	}
	form := url.Values{}
	for name, value := range v {
		form.Set(name, fmt.Sprint(value))
	}
	return form.Encode()
}

// The service answers each example request of the OpenAPI file with the example answer of the same name. The text of a
// screen is not compared, because its wording may change.
func TestWireExamples(t *testing.T) {
	w := newWire(t, "", "")
	played := 0
	for path, item := range w.model.Paths.PathItems.FromOldest() {
		if item.Post == nil {
			continue
		}
		path = strings.Replace(path, "{gateway}", "local", 1)
		expected := expectedAnswers(t, item.Post)
		for contentType, media := range item.Post.RequestBody.Content.FromOldest() {
			for name, example := range media.Examples.FromOldest() {
				want, known := expected[name]
				if !known {
					t.Errorf("%s: no answer stands under the name %s", path, name)
					continue
				}
				request := wireRequest(path, contentType, encode(t, contentType, example))
				resp := w.call(name, want.status == http.StatusBadRequest, request)
				var got any
				if want.body != nil {
					configtest.OK(t, json.NewDecoder(resp.Body).Decode(&got))
				}
				if resp.StatusCode != want.status || !reflect.DeepEqual(unworded(got), unworded(want.body)) {
					t.Errorf("%s: %d %v, the file says %d %v", name, resp.StatusCode, got, want.status, want.body)
				}
				played++
			}
		}
	}
	if played < 13 {
		t.Errorf("only %d examples were played", played)
	}
}

type wireAnswer struct {
	status int
	body   any // nil if the answer has no body
}

func expectedAnswers(t *testing.T, op *v3.Operation) map[string]wireAnswer {
	t.Helper()
	all := map[string]wireAnswer{}
	for code, resp := range op.Responses.Codes.FromOldest() {
		status, err := strconv.Atoi(code)
		configtest.OK(t, err)
		if names, found := resp.Extensions.Get("x-examples"); found {
			var list []string
			configtest.OK(t, names.Decode(&list))
			for _, name := range list {
				all[name] = wireAnswer{status: status}
			}
		}
		for _, media := range resp.Content.FromOldest() {
			for name, example := range media.Examples.FromOldest() {
				var body any
				configtest.OK(t, example.Value.Decode(&body))
				b, err := json.Marshal(body)
				if err != nil || json.Unmarshal(b, &body) != nil {
					t.Fatal(err)
				}
				all[name] = wireAnswer{status, body}
			}
		}
	}
	return all
}

// unworded replaces the text of a screen, if the body is a screen.
func unworded(body any) any {
	if object, ok := body.(map[string]any); ok && object["text"] != "" && object["more"] != nil {
		object["text"] = "a screen"
	}
	return body
}

const asJSON = "application/json"

// wireCalls are the kinds of calls of a network, each with a valid body and the status of the answer.
var wireCalls = []struct {
	kind, body string
	status     int
}{
	{"ussd", `{"phone":"+447700900001","session":"a","event":"begin"}`, 200},
	{"sms", `{"phone":"+447700900002","id":"a"}`, 202},
	{"receipt", `{"id":"a","state":"delivered"}`, 204},
}

// The OpenAPI file allows the answers to refused calls.
func TestWireRefusals(t *testing.T) {
	w := newWire(t, "", "[limits.number]\ncalls_a_minute = 1\n")
	for _, c := range wireCalls {
		for _, tt := range []struct {
			name   string
			want   int
			body   string
			change func(*http.Request)
		}{
			{"taken", c.status, c.body, func(*http.Request) {}},
			{"no token", 401, c.body, func(r *http.Request) { r.Header.Del("Authorization") }},
			{"no such network", 404, c.body, func(r *http.Request) { r.URL.Path = "/in/heron/" + c.kind }},
			{"too large", 413, strings.Repeat(" ", 65<<10), func(*http.Request) {}},
			{"another type", 415, c.body, func(r *http.Request) { r.Header.Set("Content-Type", "text/csv") }},
			{"compressed", 415, c.body, func(r *http.Request) { r.Header.Set("Content-Encoding", "gzip") }},
			{"no JSON", 400, "{", func(*http.Request) {}},
			{"not an object", 400, "[]", func(*http.Request) {}},
			{"a name twice", 400, `{"id":"a","id":"a"}`, func(*http.Request) {}},
			{"nothing", 400, "{}", func(*http.Request) {}},
			{"a long id", 400, `{"id":"` + strings.Repeat("x", 129) + `"}`, func(*http.Request) {}},
			{"too many headers", 431, c.body, func(r *http.Request) { r.Header["X-Many"] = make([]string, 101) }},
		} {
			r := wireRequest("/in/local/"+c.kind, asJSON, tt.body)
			tt.change(r)
			if resp := w.call(c.kind+", "+tt.name, true, r); resp.StatusCode != tt.want {
				t.Errorf("%s, %s: %d, want %d", c.kind, tt.name, resp.StatusCode, tt.want)
			}
		}
		again := wireRequest("/in/local/"+c.kind, asJSON, strings.Replace(c.body, `"a"`, `"b"`, 1))
		resp := w.call(c.kind+", over the limit", false, again)
		// Delivery receipts have no limit, so no receipt gets 429.
		if limited := resp.StatusCode == 429; limited != (c.kind != "receipt") {
			t.Errorf("%s, over the limit: %d", c.kind, resp.StatusCode)
		}
	}
}

// If the records cannot be read, the OpenAPI file allows the answers of /healthz, /readyz and calls.
func TestWireWithoutRecords(t *testing.T) {
	w := newWire(t, "", "")
	watch := func(path, accept string, want int) {
		t.Helper()
		r := httptest.NewRequest(http.MethodGet, path, http.NoBody)
		r.Header.Set("Accept", accept)
		if resp := w.call(path, false, r); resp.StatusCode != want {
			t.Errorf("%s: %d, want %d", path, resp.StatusCode, want)
		}
	}
	watch("/healthz", "", 200)
	watch("/readyz", "", 200)
	watch("/readyz", asJSON, 200)
	configtest.OK(t, w.service.Store().Close())
	watch("/readyz", "", 503)
	watch("/readyz", asJSON, 503)
	for _, c := range wireCalls {
		if resp := w.call(c.kind, false, wireRequest("/in/local/"+c.kind, asJSON, c.body)); resp.StatusCode != 503 {
			t.Errorf("%s: %d", c.kind, resp.StatusCode)
		}
	}
}

// The OpenAPI file allows the request that pushes a text.
func TestWirePush(t *testing.T) {
	var w *wire
	pushed := 0
	network := httptest.NewServer(http.HandlerFunc(func(out http.ResponseWriter, r *http.Request) {
		item, _ := w.model.Webhooks.Get("push")
		if ok, errs := w.validate.ValidateHttpRequestWithPathItem(r, item, "/push"); !ok {
			t.Errorf("the file refuses the push: %s", explain(errs))
		}
		pushed++
		out.Header().Set("Content-Type", "application/json")
		fmt.Fprint(out, `{"id":"n-1"}`)
	}))
	defer network.Close()
	w = newWire(t, network.URL, "")
	const help = `{"id":"t","phone":"+447700900001","text":"HELP"}`
	w.call("help", false, wireRequest("/in/local/sms", asJSON, help))
	if err := w.service.Settle(t.Context()); err != nil || pushed != 1 {
		t.Errorf("%d texts were pushed, %v", pushed, err)
	}
}

var statusName = regexp.MustCompile(`\bhttp\.(Status\w+)`)

// The OpenAPI file lists, for each kind of call, every HTTP status that the source of package gateway contains.
func TestWireKnowsEveryStatus(t *testing.T) {
	w := newWire(t, "", "")
	statuses := map[string]int{}
	for code := 100; code < 600; code++ {
		statuses["Status"+strings.NewReplacer(" ", "", "-", "", "'", "").Replace(http.StatusText(code))] = code
	}
	files, err := filepath.Glob("../../../gateway/*.go")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	named := map[int]bool{}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		source, err := os.ReadFile(file)
		configtest.OK(t, err)
		for _, m := range statusName.FindAllStringSubmatch(string(source), -1) {
			if code := statuses[m[1]]; code != 0 {
				named[code] = true
			}
		}
	}
	if len(named) < 12 {
		t.Fatalf("found %v", named)
	}
	// TestWireExamples checks the statuses of successful calls.
	taken := []int{http.StatusOK, http.StatusAccepted, http.StatusNoContent}
	for path, item := range w.model.Paths.PathItems.FromOldest() {
		if item.Post == nil {
			continue
		}
		for status := range named {
			_, known := item.Post.Responses.Codes.Get(strconv.Itoa(status))
			if !known && !slices.Contains(taken, status) {
				t.Errorf("%s: a handler may answer %d, which the file does not know", path, status)
			}
		}
	}
}
