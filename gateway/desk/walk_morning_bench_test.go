package desk_test

import (
	"flag"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"
)

var crowd = flag.Int("crowd", 10_000, "growers of BenchmarkMorning")

// BenchmarkMorning measures the first page of an operator, with the counts of all places, and pages of one reason. The
// list is kept before.
//
//	go test ./gateway/desk -run - -bench Morning -benchtime 200x -crowd 1000000 -timeout 1h
func BenchmarkMorning(b *testing.B) {
	v := openCrowd(b, *crowd)
	_, refused, err := v.service.Store().KeepAttention(b.Context(), v.clock.Now().Unix())
	if err != nil || refused > 0 {
		b.Fatalf("%d refused, %v", refused, err)
	}
	c := v.as("operator")
	if page := c.get("/desk/"); !strings.Contains(page.body, "/contact") {
		b.Fatalf("nobody is listed: %s", page.body)
	}
	for _, path := range []string{"/desk/", "/desk/?why=silent", "/desk/?why=opens"} {
		b.Run(path, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				from := b.Elapsed()
				if a := c.send(http.MethodGet, path, "", nil); a.status != http.StatusOK {
					b.Fatalf("status %d: %s", a.status, a.body)
				}
				took = append(took, b.Elapsed()-from)
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}
