package circle_test

import (
	"flag"
	"os"
	"os/exec"
	"slices"
	"testing"

	"rowbell/engine/circle"
)

// glpkRuns is how many random problems are compared with GLPK.
var glpkRuns = flag.Int("glpk", 40, "random problems to compare with glpsol; .ci/run takes 500")

// needGLPK skips a test where there is no glpsol. In CI the test fails.
func needGLPK(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("glpsol"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no glpsol found, and CI is set: install glpk-utils")
		}
		t.Skip("no glpsol found: install glpk-utils to run this test")
	}
}

// sameAsGLPK checks that a roster is proven, and has the values of the optimum that GLPK finds, in every objective.
func sameAsGLPK(t *testing.T, seed uint64, p circle.Problem) {
	t.Helper()
	r, o := plannedRoster(t, p)
	if want := newProgramme(p).solve(t); o != want || !r.HandoversProven {
		t.Errorf("seed %d: the roster has %+v (proven: %t), GLPK has %+v", seed, o, r.HandoversProven, want)
	}
}

func TestAgainstGLPK(t *testing.T) {
	needGLPK(t)
	for seed := range uint64(*glpkRuns) {
		sameAsGLPK(t, seed, randomProblem(seeded(seed)))
	}
}

// After a small change, only what must move moves: all turns were told, and the window of one plot is a day later.
func TestSmallChangeAgainstGLPK(t *testing.T) {
	needGLPK(t)
	for seed := range uint64(*glpkRuns / 2) {
		p := randomProblem(seeded(seed))
		p = retold(p, p.Solve(circle.Limit{}))
		moved := &p.Plots[seed%uint64(len(p.Plots))]
		moved.Opens++
		moved.Closes++
		moved.Until++
		sameAsGLPK(t, seed, p)
	}
}

// What Problem.Explain says is lost if a plot has its best day is what GLPK loses if the plot must have it.
func TestLossAgainstGLPK(t *testing.T) {
	needGLPK(t)
	losses := map[circle.Objective]int{}
	for seed := range uint64(*glpkRuns / 2) {
		p := randomProblem(seeded(seed))
		r, o := plannedRoster(t, p)
		reasons, whole := p.Explain(r, circle.Limit{})
		if !whole {
			t.Errorf("seed %d: not all was tried", seed)
		}
		for i, reason := range reasons {
			if !reason.HasBest || reason.OnBest {
				continue
			}
			m := newProgramme(p)
			m.must(i, int(reason.Best-p.From))
			loss := lost(o, m.solve(t))
			if losses[loss.Objective]++; reason.Loss.Objective != loss.Objective || reason.Loss.By != loss.By {
				t.Errorf("seed %d, plot %d: lost is %+v, GLPK says %+v", seed, i, reason.Loss, loss)
			}
		}
	}
	if len(losses) < 3 {
		t.Errorf("the losses were only of the objectives %v", losses)
	}
}

// lost returns the first objective in which an optimum is worse than the one before it.
func lost(before, now optimum) circle.Loss {
	for i, by := range []int{
		before.served - now.served, now.moved - before.moved, now.lateness - before.lateness,
		before.missed - now.missed, before.chance - now.chance, now.handovers - before.handovers,
	} {
		if by != 0 {
			return circle.Loss{Objective: circle.MostServed + circle.Objective(i), By: by}
		}
	}
	return circle.Loss{}
}

// retold returns the problem in which the turns of a roster are the told turns.
func retold(p circle.Problem, r circle.Roster) circle.Problem {
	p.Plots = slices.Clone(p.Plots)
	for i := range p.Plots {
		p.Plots[i].Told = nil
	}
	for _, turn := range r.Turns {
		p.Plots[turn.Plot].Told = append(p.Plots[turn.Plot].Told, turn.Turn)
	}
	return p
}
