package bell

import (
	"fmt"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/clock"
)

// BenchmarkPlan plans a crowded circle of twenty plots and three tools with the real clock:
//
//	go test ./gateway/bell -run xxx -bench Plan
func BenchmarkPlan(b *testing.B) {
	s := newShared(&testing.T{}, 3)
	s.b.o.Clock = real{}
	for i := range 20 {
		s.member(fmt.Sprint("Ana", i), 1500, 6+engine.Day(i%7))
	}
	var p *circlePlan
	for b.Loop() {
		p = s.b.planCircle(s.c, first.At(7, time.UTC))
	}
	served := 0
	for _, plot := range p.plots {
		if plot.result.Served {
			served++
		}
	}
	b.ReportMetric(float64(served), "served")
}

// real is the clock of the machine.
type real struct{ clock.Clock }

func (real) Now() time.Time { return time.Now() }
