package meter

import (
	"bytes"
	"net/http"
	"strings"

	"github.com/VictoriaMetrics/metrics"
)

// family is all series of one name: the same metric with different values of its labels.
type family struct {
	name   string
	labels []string // names of the labels
}

// helps has the help text of each family.
var helps = map[string]string{}

func declare(name, help string, labels ...string) family {
	helps[name] = help
	return family{name, labels}
}

// labelValue escapes the value of a label (Prometheus, "Exposition formats", section "Comments, help text, and type
// information").
var labelValue = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

// series returns the name of the series in which the labels have these values.
func (f family) series(values ...string) string {
	if len(values) != len(f.labels) {
		panic("meter: wrong number of labels for " + f.name)
	}
	if len(values) == 0 {
		return f.name
	}
	pairs := make([]string, len(values))
	for i, v := range values {
		pairs[i] = f.labels[i] + `="` + labelValue.Replace(v) + `"`
	}
	return f.name + "{" + strings.Join(pairs, ",") + "}"
}

// maxScrapes bounds the number of pages in work at once, because each may count the records.
const maxScrapes = 2

// contentType names the format of the page (Prometheus, "Exposition formats", section "Basic info").
const contentType = "text/plain; version=0.0.4; charset=utf-8"

// Handler serves the metrics.
func (m *Meter) Handler() http.Handler {
	metrics.ExposeMetadata(true) // for the whole process: the library writes the type of each metric
	scrapes := make(chan struct{}, maxScrapes)
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		select {
		case scrapes <- struct{}{}:
			defer func() { <-scrapes }()
		default:
			http.Error(w, "The metrics are being read already; ask again later.", http.StatusServiceUnavailable)
			return
		}
		w.Header().Set("Content-Type", contentType)
		_, _ = w.Write(m.page())
	})
}

// page returns all metrics in the text format.
func (m *Meter) page() []byte {
	var page bytes.Buffer
	m.set.WritePrometheus(&page)
	m.records.collect().WritePrometheus(&page)
	metrics.WriteGoMetrics(&page)
	metrics.WriteProcMetrics(&page)
	metrics.WriteFDMetrics(&page)
	return addHelp(page.Bytes())
}

// addHelp adds our help texts to the HELP lines, in which the library writes only a name. A HELP line without a text
// is left out.
func addHelp(page []byte) []byte {
	var out bytes.Buffer
	for line := range bytes.Lines(page) {
		name, isHelp := bytes.CutPrefix(line, []byte("# HELP "))
		if !isHelp {
			out.Write(line)
			continue
		}
		name = bytes.TrimSpace(name)
		if help := helps[string(name)]; help != "" {
			out.WriteString("# HELP " + string(name) + " " + help + "\n")
		}
	}
	return out.Bytes()
}
