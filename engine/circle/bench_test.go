package circle

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

// BenchmarkSolve reports, beside the mean, the median and the slowest of problems with fixed seeds, and how many were
// proven.
func BenchmarkSolve(b *testing.B) {
	for _, c := range []crowd{
		{plots: 12, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12},
		{plots: 12, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12, even: true},
		{plots: 12, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12, classes: true, shared: true},
		{plots: 12, tools: 3, days: 12, needs: 4, windowMin: 5, windowMax: 12},
		{plots: 12, tools: 3, days: 12, needs: 4, windowMin: 5, windowMax: 12, even: true},
		{plots: 20, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12},
		{plots: 20, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12, even: true},
		{plots: 20, tools: 3, days: 30, needs: 4, windowMin: 5, windowMax: 12, classes: true, shared: true},
		{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12},
		{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12, even: true},
		{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12, classes: true, shared: true},
		{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12, classes: true, shared: true, even: true},
		{plots: 20, tools: 3, days: 30, needs: 7, windowMin: 5, windowMax: 12, classes: true, shared: true},
		{plots: 200, tools: 12, days: 40, needs: 4, windowMin: 5, windowMax: 12},
	} {
		b.Run(fmt.Sprintf("%+v", c), func(b *testing.B) {
			var times []time.Duration
			var proven, handovers, served, bound, nodes float64
			for b.Loop() {
				p := c.draw(uint64(len(times)))
				begin := time.Now()
				r := p.Solve(Limit{})
				times = append(times, time.Since(begin))
				if err := Verify(p, r); err != nil {
					b.Fatal(err)
				}
				if r.Proven {
					proven++
				}
				if r.HandoversProven {
					handovers++
				}
				served += float64(r.Served)
				bound += float64(r.Bound)
				nodes += float64(r.Nodes)
			}
			slices.Sort(times)
			n := float64(len(times))
			b.ReportMetric(float64(times[len(times)/2].Microseconds())/1000, "ms/median")
			b.ReportMetric(float64(times[len(times)*19/20].Microseconds())/1000, "ms/95%")
			b.ReportMetric(proven/n, "proven")
			b.ReportMetric(handovers/n, "handovers-proven")
			b.ReportMetric(served/n, "served")
			b.ReportMetric(bound/n, "bound")
			b.ReportMetric(nodes/n, "nodes")
		})
	}
}
