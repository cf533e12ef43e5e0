package calls

import (
	"time"

	"github.com/HdrHistogram/hdrhistogram-go"
)

// times are durations of which the percentiles are wanted.
type times struct{ h *hdrhistogram.Histogram }

// longestTime is the greatest duration that is told apart.
const longestTime = time.Hour

func newTimes() times { return times{hdrhistogram.New(1, longestTime.Microseconds(), 3)} }

func (t times) add(d time.Duration) {
	_ = t.h.RecordValue(min(max(d, 0), longestTime).Microseconds()) // it is in range
}

// Percentiles are in milliseconds.
type Percentiles struct {
	N    int64   `json:"n"`
	P50  float64 `json:"p50_ms"`
	P90  float64 `json:"p90_ms"`
	P99  float64 `json:"p99_ms"`
	P999 float64 `json:"p999_ms"`
	Most float64 `json:"most_ms"`
}

func (t times) percentiles() Percentiles {
	ms := func(p float64) float64 { return float64(t.h.ValueAtQuantile(p)) / 1000 }
	return Percentiles{t.h.TotalCount(), ms(50), ms(90), ms(99), ms(99.9), float64(t.h.Max()) / 1000}
}
