package circle_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// This file writes a problem as an integer programme and has it solved by glpsol of GLPK
// (https://www.gnu.org/software/glpk/). The programme is written from the statement of the problem and shares nothing
// with Problem.Solve.

// programme is an integer programme in the CPLEX LP format, in which it is written one row a line.
type programme struct {
	problem circle.Problem
	rows    bytes.Buffer
	binary  []string
	sums    struct{ served, moved, lateness, missed, chance, handovers sum } // one for each objective
	n       int                                                              // rows so far
	bound   optimum                                                          // no roster has larger values
}

// sum is a linear expression: a constant and the factor of each variable.
type sum struct {
	variables []string // in the order in which they came
	factors   map[string]int
	constant  int
}

func (s *sum) add(factor int, variable string) {
	if s.factors == nil {
		s.factors = map[string]int{}
	}
	if _, ok := s.factors[variable]; !ok {
		s.variables = append(s.variables, variable)
	}
	s.factors[variable] += factor
}

// plus adds a multiple of another expression.
func (s *sum) plus(factor int, other sum) {
	s.constant += factor * other.constant
	for _, v := range other.variables {
		s.add(factor*other.factors[v], v)
	}
}

// value returns the value of the expression where the variables of a set are 1 and all others are 0.
func (s *sum) value(ones map[string]bool) int {
	v := s.constant
	for variable, factor := range s.factors {
		if ones[variable] {
			v += factor
		}
	}
	return v
}

// String writes the terms, in lines that are short enough for glpsol.
func (s *sum) String() string {
	var b strings.Builder
	for i, v := range s.variables {
		if i%8 == 7 {
			b.WriteString("\n  ")
		}
		fmt.Fprintf(&b, " %+d %s", s.factors[v], v)
	}
	return b.String()
}

// of returns first minus the others.
func of(first string, less ...string) sum {
	var s sum
	s.add(1, first)
	for _, v := range less {
		s.add(-1, v)
	}
	return s
}

// row adds "s relation right" to the programme.
func (m *programme) row(s sum, relation string, right int) {
	if len(s.variables) == 0 {
		return // in all places in which it happens, 0 satisfies the relation
	}
	m.n++
	fmt.Fprintf(&m.rows, " r%d: %s %s %d\n", m.n, s.String(), relation, right-s.constant)
}

// variable declares a variable that is 0 or 1.
func (m *programme) variable(format string, index ...any) string {
	name := fmt.Sprintf(format, index...)
	m.binary = append(m.binary, name)
	return name
}

// newProgramme writes the limits and the objectives. x_P_T_D is 1 if plot P has tool T on day D (from Problem.From).
func newProgramme(p circle.Problem) *programme {
	m := &programme{problem: p}
	perTool, perHousehold := map[[2]int]*sum{}, map[[2]int]*sum{}
	turns := map[[3]int]string{} // names of x
	for i, plot := range p.Plots {
		m.plot(i, plot, func(tool, day int) string {
			x := m.variable("x_%d_%d_%d", i, tool, day)
			turns[[3]int{i, tool, day}] = x
			into(perTool, [2]int{tool, day}).add(1, x)
			into(perHousehold, [2]int{plot.Household, day}).add(1, x)
			return x
		})
	}
	for tool := range p.Tools {
		for day := range days(p) {
			m.row(*into(perTool, [2]int{tool, day}), "<=", 1)
		}
	}
	for h, household := range p.Households {
		for day := range days(p) {
			m.row(*into(perHousehold, [2]int{h, day}), "<=", handsOn(household, day))
		}
	}
	m.told(turns)
	m.handovers(turns)
	return m
}

func into(sums map[[2]int]*sum, at [2]int) *sum {
	if sums[at] == nil {
		sums[at] = &sum{}
	}
	return sums[at]
}

func days(p circle.Problem) int { return int(p.To-p.From) + 1 }

// handsOn returns how many tools the household can use on a day.
func handsOn(h circle.Household, day int) int {
	switch {
	case len(h.Hands) == 0:
		return 1
	case day >= len(h.Hands):
		return h.Hands[len(h.Hands)-1]
	}
	return h.Hands[day]
}

func out(t circle.Tool, day engine.Day) bool {
	return slices.ContainsFunc(t.Out, func(s circle.Span) bool { return s.From <= day && day <= s.To })
}

// plot adds the rows of one plot. y_P_N is 1 if its pass is made with the tools that need N days, s_P_N if that also
// makes it served.
func (m *programme) plot(i int, plot circle.Plot, turn func(tool, day int) string) {
	needs := slices.Sorted(slices.Values(plot.Need))
	needs = slices.DeleteFunc(slices.Compact(needs), func(n int) bool { return n == 0 })
	var class, served sum
	for _, need := range needs {
		y, s := m.variable("y_%d_%d", i, need), m.variable("s_%d_%d", i, need)
		class.add(1, y)
		served.add(1, s)
		all, inWindow := sum{}, sum{}
		for tool, n := range plot.Need {
			if n != need {
				continue
			}
			for day := max(plot.Opens, m.problem.From); day <= min(plot.Until, m.problem.To); day++ {
				if out(m.problem.Tools[tool], day) {
					continue
				}
				x := turn(tool, int(day-m.problem.From))
				all.add(1, x)
				m.row(of(x, y), "<=", 0) // makes the relaxation tighter
				// A missing tool-day counts Until+1-Closes: that is counted for all of need, and taken off again here.
				late := max(0, int(day-plot.Closes))
				m.sums.lateness.add(late-missing(plot), x)
				if late == 0 {
					inWindow.add(1, x)
					m.sums.chance.add(thousandths(plot, day), x)
				}
			}
		}
		all.add(-need, y)
		m.row(all, "<=", 0) // never more than the need, and none of another class
		inWindow.add(-need, s)
		m.row(inWindow, ">=", 0)
		m.row(of(s, y), "<=", 0)
		m.sums.lateness.add(need*missing(plot), y)
		m.sums.served.add(1, s)
		m.sums.missed.add(plot.Missed, s)
	}
	if len(needs) > 0 {
		m.row(class, "=", 1)
		most := needs[len(needs)-1]
		m.bound.served++
		m.bound.lateness += most * missing(plot)
		m.bound.missed += plot.Missed
		m.bound.chance += most * 1000
	}
}

// missing is what each missing tool-day counts in the total lateness.
func missing(p circle.Plot) int { return int(p.Until) + 1 - int(p.Closes) }

func thousandths(p circle.Plot, day engine.Day) int {
	if p.Chance == nil {
		return 0
	}
	return int(p.Chance[day-p.Opens]*1000 + 0.5)
}

// told counts the told turns that the roster does not have.
func (m *programme) told(turns map[[3]int]string) {
	for i, plot := range m.problem.Plots {
		for _, t := range plot.Told {
			if t.Day < m.problem.From || t.Day > m.problem.To {
				continue
			}
			m.bound.moved++
			m.sums.moved.constant++
			if x := turns[[3]int{i, t.Tool, int(t.Day - m.problem.From)}]; x != "" {
				m.sums.moved.add(-1, x)
			}
		}
	}
}

// handovers adds h_T_D_H, which is 1 if household H has tool T after day D, and c_T_D, which is 1 if that changes. On
// idle days and before its first turn a tool may be anywhere, so the fewest changes are those between used days.
func (m *programme) handovers(turns map[[3]int]string) {
	for tool := range m.problem.Tools {
		for day := range days(m.problem) {
			var one sum
			change := m.variable("c_%d_%d", tool, day)
			for h := range m.problem.Households {
				has := m.variable("h_%d_%d_%d", tool, day, h)
				one.add(1, has)
				var held sum
				held.add(-1, has)
				for i, plot := range m.problem.Plots {
					if x := turns[[3]int{i, tool, day}]; x != "" && plot.Household == h {
						held.add(1, x)
					}
				}
				m.row(held, "<=", 0)
				if day > 0 {
					before := fmt.Sprintf("h_%d_%d_%d", tool, day-1, h)
					m.row(of(has, before, change), "<=", 0)
				}
			}
			m.row(one, "=", 1)
			m.sums.handovers.add(1, change)
			m.bound.handovers++
		}
	}
}

// must adds the row that a plot has a tool on a day.
func (m *programme) must(plot, day int) {
	var turns sum
	for tool := range m.problem.Tools {
		if x := fmt.Sprintf("x_%d_%d_%d", plot, tool, day); slices.Contains(m.binary, x) {
			turns.add(1, x)
		}
	}
	m.row(turns, ">=", 1)
}

// solve returns the optimum. glpsol runs twice, because one weighted sum of all objectives would need larger weights
// than its floating point numbers can tell apart.
func (m *programme) solve(t *testing.T) optimum {
	t.Helper()
	// The weight of each objective is larger than all that the objectives after it can add up to.
	lateness := m.bound.missed + 1
	moved := lateness * (m.bound.lateness + 1)
	served := moved * (m.bound.moved + 1)
	var first, second sum
	first.plus(-served, m.sums.served)
	first.plus(moved, m.sums.moved)
	first.plus(lateness, m.sums.lateness)
	first.plus(-1, m.sums.missed)
	o := m.minimum(t, first)
	m.row(m.sums.served, "=", o.served)
	m.row(m.sums.moved, "=", o.moved)
	m.row(m.sums.lateness, "=", o.lateness)
	m.row(m.sums.missed, "=", o.missed)
	second.plus(-(m.bound.handovers + 1), m.sums.chance)
	second.plus(1, m.sums.handovers)
	return m.minimum(t, second)
}

// minimum runs glpsol. It returns the values of all objectives where an expression is least.
func (m *programme) minimum(t *testing.T, least sum) optimum {
	t.Helper()
	ones := map[string]bool{}
	if len(m.binary) > 0 {
		var objective sum
		for _, v := range m.binary { // glpsol numbers the variables as they come: now in the order of m.binary
			objective.add(least.factors[v], v)
		}
		dir := t.TempDir()
		model, solution := filepath.Join(dir, "model.lp"), filepath.Join(dir, "solution")
		text := fmt.Sprintf("Minimize\n value: %s\nSubject To\n%sBinary\n %s\nEnd\n",
			objective.String(), m.rows.String(), strings.Join(m.binary, "\n "))
		if err := os.WriteFile(model, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := exec.Command("glpsol", "--lp", model, "--write", solution).CombinedOutput()
		if err != nil {
			t.Fatalf("glpsol: %v\n%s", err, said)
		}
		written, err := os.ReadFile(solution)
		if err != nil {
			t.Fatal(err)
		}
		ones = m.read(t, string(written))
	}
	return optimum{
		served: m.sums.served.value(ones), moved: m.sums.moved.value(ones), lateness: m.sums.lateness.value(ones),
		missed: m.sums.missed.value(ones), chance: m.sums.chance.value(ones), handovers: m.sums.handovers.value(ones),
	}
}

// read returns the variables that are 1 in a solution that glpsol wrote: the line "s mip ROWS COLUMNS STATUS VALUE",
// whose STATUS is o if the solution is optimal, and a line "j NUMBER VALUE" for each variable (GLPK 5.0, reference
// manual, glp_write_mip).
func (m *programme) read(t *testing.T, written string) map[string]bool {
	t.Helper()
	ones, optimal := map[string]bool{}, false
	for line := range strings.Lines(written) {
		switch f := strings.Fields(line); {
		case len(f) == 6 && f[0] == "s":
			optimal = f[4] == "o"
		case len(f) == 3 && f[0] == "j":
			number, err := strconv.Atoi(f[1])
			value, err2 := strconv.ParseFloat(f[2], 64)
			if err != nil || err2 != nil {
				t.Fatalf("glpsol wrote %q", line)
			}
			ones[m.binary[number-1]] = value > 0.5
		}
	}
	if !optimal {
		t.Fatalf("glpsol found no optimum: %s", written)
	}
	return ones
}
