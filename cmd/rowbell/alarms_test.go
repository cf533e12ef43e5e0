package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/go-yaml"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// alarm is a rule of alarms.yaml.
type alarm struct {
	Alert, Expr, For    string
	Labels, Annotations map[string]string
}

// alarms reads alarms.yaml. Each alarm says what is so, and what to do.
func alarms(t *testing.T) []alarm {
	t.Helper()
	var file struct{ Groups []struct{ Rules []alarm } }
	must(t, yaml.Unmarshal(houseRead(t, "cmd/rowbell/manual/alarms.yaml"), &file))
	var list []alarm
	for _, g := range file.Groups {
		for _, a := range g.Rules {
			severity := a.Labels["severity"]
			if a.For == "" || severity != "critical" && severity != "warning" || len(a.Annotations) != 2 ||
				a.Annotations["summary"] == "" || a.Annotations["action"] == "" {
				t.Errorf("%s lacks for, severity, summary or action", a.Alert)
			}
			list = append(list, a)
		}
	}
	if len(list) == 0 {
		t.Fatal("no alarms")
	}
	return list
}

// The page "alarms" explains each alarm, and no other.
func TestAlarmsAreExplained(t *testing.T) {
	var explained, known []string
	for _, m := range regexp.MustCompile(`(?m)^\*\*(Rowbell\w+)\*\*`).FindAllSubmatch(
		houseRead(t, "cmd/rowbell/manual/alarms.md"), -1) {
		explained = append(explained, string(m[1]))
	}
	for _, a := range alarms(t) {
		known = append(known, a.Alert)
	}
	if !slices.Equal(explained, known) {
		t.Errorf("the page explains %q; there are %q", explained, known)
	}
}

// everyMetric returns all series that the program can export, by the name of the metric.
func everyMetric(t *testing.T) map[string][]map[string]string {
	t.Helper()
	dir := t.TempDir()
	db := filepath.Join(dir, "rowbell.db")
	s, err := store.Open(t.Context(), db, store.Options{})
	must(t, err)
	defer s.Close()
	no := func() bool { return false }
	m := meter.New(meter.Options{Clock: clock.New(aDay), Store: s, Gateways: []string{"heron"}, Version: "1.2.3",
		Process: "mill:8080", DB: db, Disks: []meter.Disk{{Name: "records", Path: dir}, {Name: "backups", Path: dir}},
		OperatorHold: no, BackupShrunken: no,
		Spend: func() ([]meter.SpendRow, error) { return []meter.SpendRow{{Gateway: "heron"}}, nil }})
	m.Callback("heron", "ussd", "ok", time.Second)
	m.Pushed("heron", "taken", time.Second)
	m.Receipt("heron", "delivered", "noted")
	for _, limit := range []string{"calls", "sessions", "texts", "money-day", "money-month"} {
		m.Limited("heron", "gateway", limit)
	}
	answer := httptest.NewRecorder()
	for range 2 { // the first scrape begins a count
		answer = httptest.NewRecorder()
		m.Handler().ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/metrics", nil))
		m.Count(t.Context())
	}
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(answer.Body)
	must(t, err)
	series := map[string][]map[string]string{"up": {{}}} // up is Prometheus' own
	for name, f := range families {
		for _, x := range f.GetMetric() {
			labels := map[string]string{"job": "rowbell", "instance": "mill:8080"} // added by Prometheus
			for _, l := range x.GetLabel() {
				labels[l.GetName()] = l.GetValue()
			}
			if x.GetHistogram() != nil {
				bucket := maps.Clone(labels)
				bucket["le"] = "1"
				series[name+"_bucket"] = append(series[name+"_bucket"], bucket)
			}
			series[name] = append(series[name], labels)
		}
	}
	series["up"][0] = map[string]string{"job": "rowbell", "instance": "mill:8080"}
	return series
}

var (
	selected = regexp.MustCompile(`\b(rowbell_[a-z_]+|up)\b(?:\{([^}]*)\})?`)
	matcher  = regexp.MustCompile(`([a-z_]+)(=~?)"([^"]*)"`)
	grouped  = regexp.MustCompile(`\b(?:by|on) \(([a-z, ]*)\)`)
)

// Each metric, each label and each value of a label in an alarm is one that the program exports.
func TestAlarmsAreOfMetricsThatExist(t *testing.T) {
	every := everyMetric(t)
	for _, a := range alarms(t) {
		found := selected.FindAllStringSubmatch(a.Expr, -1)
		if len(found) == 0 {
			t.Errorf("%s is of no metric", a.Alert)
		}
		for _, m := range found {
			series := every[m[1]]
			if len(series) == 0 {
				t.Errorf("%s: the program exports no %s", a.Alert, m[1])
				continue
			}
			for _, l := range matcher.FindAllStringSubmatch(m[2], -1) {
				for value := range strings.SplitSeq(l[3], "|") {
					if !slices.ContainsFunc(series, func(s map[string]string) bool { return s[l[1]] == value }) {
						t.Errorf("%s: no %s has %s=%q", a.Alert, m[1], l[1], value)
					}
				}
			}
			for _, g := range grouped.FindAllStringSubmatch(a.Expr, -1) {
				for label := range strings.SplitSeq(g[1], ", ") {
					_, has := series[0][label]
					if !has && !strings.HasPrefix(g[0], "on") && m[1] != "rowbell_plots_open" {
						t.Errorf("%s: %s has no label %s", a.Alert, m[1], label)
					}
				}
			}
		}
	}
}

// Each alarm fires when it should, not before its time, and not when it should not.
func TestAlarmsFire(t *testing.T) {
	program := tool(t, "promtool", "prometheus")
	rules, err := filepath.Abs("manual/alarms.yaml")
	must(t, err)
	if out, err := exec.Command(program, "check", "rules", rules).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	known := map[string]alarm{}
	for _, a := range alarms(t) {
		known[a.Alert] = a
	}
	var tests []any
	for _, c := range alarmCases {
		a, ok := known[c.alert]
		if !ok {
			t.Fatalf("there is no alarm %s", c.alert)
		}
		delete(known, c.alert)
		tests = append(tests, c.test(c.fires, a, c.at, true), c.test(c.fires, a, c.before, false),
			c.test(c.silent, a, c.at, false))
	}
	if len(known) > 0 {
		t.Errorf("no case for %q", slices.Sorted(maps.Keys(known)))
	}
	b, err := json.Marshal(map[string]any{"rule_files": []string{rules}, "evaluation_interval": "1m", "tests": tests})
	must(t, err)
	file := filepath.Join(t.TempDir(), "cases.yaml") // JSON is YAML
	must(t, os.WriteFile(file, b, 0o600))
	if out, err := exec.Command(program, "test", "rules", file).CombinedOutput(); err != nil ||
		!bytes.Contains(out, []byte("SUCCESS")) {
		t.Errorf("%v\n%s", err, out)
	}
}

// test is a test of promtool: with these series the alarm fires or not at this minute.
func (c alarmCase) test(series []string, a alarm, minute int, fires bool) map[string]any {
	var input []map[string]string
	for _, s := range series {
		name, values, _ := strings.Cut(s, " ")
		input = append(input, map[string]string{"series": name, "values": values})
	}
	want := []any{}
	if fires {
		labels := maps.Clone(c.labels)
		if labels == nil {
			labels = map[string]string{}
		}
		labels["severity"] = a.Labels["severity"]
		want = append(want, map[string]any{"exp_labels": labels, "exp_annotations": a.Annotations})
	}
	return map[string]any{"interval": "1m", "input_series": input, "alert_rule_test": []any{map[string]any{
		"eval_time": fmt.Sprintf("%dm", minute), "alertname": a.Alert, "exp_alerts": want}}}
}
