package circle_test

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Instances and theorems of scheduling and matching, with optima that are known from elsewhere. A machine is a tool,
// a job is a plot of its own household, and its processing time is the plot's need: jobs may be interrupted from day
// to day. Time k of the literature, the unit between the instants k and k+1, is day0+k here, so a job that is
// released at r and due at d has the window r to d-1.

// job is a job of a machine: processing time, release time, due time.
type job struct{ time, release, due int }

// jobs returns the problem of jobs on identical machines over a number of days.
func jobs(machines, length int, all ...job) circle.Problem {
	p := circle.Problem{From: day0, To: day0 + engine.Day(length-1), Tools: make([]circle.Tool, machines)}
	for i, j := range all {
		plot := circle.Plot{Household: i, Opens: day0 + engine.Day(j.release), Closes: day0 + engine.Day(j.due-1)}
		plot.Until = plot.Closes
		for range machines {
			plot.Need = append(plot.Need, j.time)
		}
		p.Plots = append(p.Plots, plot)
		p.Households = append(p.Households, circle.Household{})
	}
	return p
}

// Fewest late jobs on one machine, 1 || ΣU. All jobs are released at 0, so interrupting a job gains nothing.
func TestFewestLateJobs(t *testing.T) {
	for name, test := range map[string]struct {
		jobs []job
		late int
	}{
		// J. M. Moore, An n job, one machine sequencing algorithm for minimizing the number of late jobs, Management
		// Science 15 (1968), 102-109, the example of eight jobs; from memory.
		"Moore 1968": {
			[]job{{10, 0, 35}, {6, 0, 20}, {3, 0, 11}, {1, 0, 8}, {4, 0, 6}, {8, 0, 25}, {7, 0, 28}, {6, 0, 9}}, 2,
		},
		// M. L. Pinedo, Scheduling: Theory, Algorithms, and Systems, section 3.3, the example of Moore's algorithm: the
		// sequence 3, 4, 5, 1, 2 with two late jobs; from memory.
		"Pinedo, section 3.3": {[]job{{7, 0, 9}, {8, 0, 17}, {4, 0, 18}, {6, 0, 19}, {6, 0, 21}}, 2},
	} {
		t.Run(name, func(t *testing.T) {
			o := planned(t, jobs(1, 36, test.jobs...))
			if late := len(test.jobs) - o.served; late != test.late {
				t.Errorf("%d late jobs, known are %d", late, test.late)
			}
		})
	}
}

// The least maximum lateness on one machine with release times and interruptions, 1 | r, pmtn | Lmax: all jobs can be
// done if each due time is put off by Lmax, and not if it is put off by one day less. W. A. Horn, Some simple
// scheduling algorithms, Naval Research Logistics Quarterly 21 (1974), 177-185: the earliest due job first is best.
// Instance and value: Pinedo, section 3.2, the example of branch and bound for 1 | r | Lmax, whose first bound is 5;
// from memory.
func TestMaximumLateness(t *testing.T) {
	instance := []job{{4, 0, 8}, {2, 1, 12}, {6, 3, 11}, {5, 5, 10}}
	for off, want := range map[int]bool{4: false, 5: true} {
		later := append([]job{}, instance...)
		for i := range later {
			later[i].due += off
		}
		if o := planned(t, jobs(1, 20, later...)); (o.served == len(instance)) != want {
			t.Errorf("with due times %d later, %d of %d jobs are in time", off, o.served, len(instance))
		}
	}
}

// Unit jobs with deadlines and penalties: the largest sum of penalties that need not be paid. T. H. Cormen, C. E.
// Leiserson, R. L. Rivest, C. Stein, Introduction to Algorithms, 3rd edition (2009), section 16.5, figure 16.7: tasks
// 5 and 6 are late, the penalty is 50; exercise 16.5-1 takes 80 minus each penalty, so that the penalty is 30. From
// memory. The penalties in tens are the missed windows: of the sets with most plots, the one with the largest sum is
// taken, and all largest sets of such jobs have the same size (the jobs in time are the independent sets of a
// matroid).
func TestUnitJobsWithPenalties(t *testing.T) {
	due := []int{4, 2, 4, 3, 1, 4, 6}
	for name, test := range map[string]struct {
		penalties []int
		paid      int
		late      []int // nil: not stated
	}{
		"figure 16.7":     {[]int{7, 6, 5, 4, 3, 2, 1}, 5, []int{4, 5}},
		"exercise 16.5-1": {[]int{1, 2, 3, 4, 5, 6, 7}, 3, nil},
	} {
		t.Run(name, func(t *testing.T) {
			var all []job
			for _, d := range due {
				all = append(all, job{1, 0, d})
			}
			p := jobs(1, 6, all...)
			sum := 0
			for i, penalty := range test.penalties {
				p.Plots[i].Missed = penalty
				sum += penalty
			}
			r, o := plannedRoster(t, p)
			if paid := sum - o.missed; o.served != 5 || paid != test.paid {
				t.Errorf("%d jobs in time and a penalty of %d0, known are 5 and %d0", o.served, paid, test.paid)
			}
			for _, i := range test.late {
				if servedPlots(p, r)[i] {
					t.Errorf("task %d is in time", i+1)
				}
			}
		})
	}
}

// The assignment problem: plots that need one day each, as many days as plots, and the rating as the chance of the
// day. H. W. Kuhn, The Hungarian method for the assignment problem, Naval Research Logistics Quarterly 2 (1955),
// 83-97: the example of four persons and four jobs, whose largest sum of ratings is 27; from memory. The sum is
// checked against all 24 assignments here.
func TestAssignment(t *testing.T) {
	ratings := [][]int{{8, 7, 9, 9}, {5, 2, 7, 8}, {6, 1, 4, 9}, {2, 3, 2, 6}}
	const known = 27
	if most := bestAssignment(ratings, 0, 0); most != known {
		t.Fatalf("the largest of all sums is %d", most)
	}
	n := len(ratings)
	var all []job
	for range ratings {
		all = append(all, job{1, 0, n})
	}
	p := jobs(1, n, all...)
	for i, row := range ratings {
		for _, rating := range row {
			p.Plots[i].Chance = append(p.Plots[i].Chance, float64(rating)/10)
		}
	}
	if o := planned(t, p); o.served != n || o.chance != known*100 {
		t.Errorf("%d served with a sum of %d thousandths", o.served, o.chance)
	}
}

// bestAssignment tries every assignment of the rows from row on to the columns that are not in the set taken.
func bestAssignment(ratings [][]int, row int, taken uint) int {
	if row == len(ratings) {
		return 0
	}
	most := 0
	for column, rating := range ratings[row] {
		if taken>>column&1 == 0 {
			most = max(most, rating+bestAssignment(ratings, row+1, taken|1<<column))
		}
	}
	return most
}

// Jobs on parallel machines, none on two at the same time. R. K. Ahuja, T. L. Magnanti, J. B. Orlin, Network Flows
// (1993), section 6.2, the application to scheduling on uniform parallel machines: four jobs with the times 1.5,
// 1.25, 2.1 and 3.6, released at 3, 1, 3, 5, due at 5, 4, 7, 9, three machines; all are done in time. From memory. A
// day here is a tenth; 1.25 is rounded up to 1.3, which only makes it harder.
func TestParallelMachines(t *testing.T) {
	p := jobs(3, 90, job{15, 30, 50}, job{13, 10, 40}, job{21, 30, 70}, job{36, 50, 90})
	if o := planned(t, p); o.served != 4 {
		t.Errorf("%d of 4 jobs are in time", o.served)
	}
}

// R. McNaughton, Scheduling with deadlines and loss functions, Management Science 6 (1959), 1-12, theorem 3.1; from
// memory: jobs that are all released at 0 can be done on m identical machines until the larger of the longest time and
// the sum of the times divided by m, rounded up, and no sooner.
func TestWrapAround(t *testing.T) {
	r := rand.New(rand.NewPCG(1959, 1))
	for range 20 {
		machines, longest, sum := 1+r.IntN(3), 0, 0
		times := make([]int, 3+r.IntN(3))
		for i := range times {
			times[i] = 1 + r.IntN(6)
			longest, sum = max(longest, times[i]), sum+times[i]
		}
		least := max(longest, (sum+machines-1)/machines)
		for length := least - 1; length <= least; length++ {
			var all []job
			for _, time := range times {
				all = append(all, job{time, 0, max(length, 1)})
			}
			o := planned(t, jobs(machines, max(length, 1), all...))
			if (o.served == len(times)) != (length >= least) {
				t.Errorf("times %v on %d machines in %d days: %d served", times, machines, length, o.served)
			}
		}
	}
}

// Horn 1974 (see TestMaximumLateness): on one machine, a set of jobs can be done if the earliest due job first does it.
// So the most jobs in time are the largest of all sets that pass this test. Days on which the machine is out change
// nothing in his proof.
func TestMostJobsInTime(t *testing.T) {
	r := rand.New(rand.NewPCG(1974, 1))
	for i := range 60 {
		var all []job
		for range 4 + r.IntN(6) {
			j := job{time: 1 + r.IntN(4), release: r.IntN(10)}
			j.due = j.release + j.time + r.IntN(5)
			all = append(all, j)
		}
		p, usable := jobs(1, 20, all...), [20]bool{}
		for d := range usable {
			usable[d] = r.IntN(8) > 0
			if day := day0 + engine.Day(d); !usable[d] {
				p.Tools[0].Out = append(p.Tools[0].Out, circle.Span{From: day, To: day})
			}
		}
		most := 0
		for set := range uint(1) << len(all) {
			if n := bits.OnesCount(set); n > most && earliestDueFirst(all, set, usable[:]) {
				most = n
			}
		}
		if o := planned(t, p); o.served != most {
			t.Errorf("%d: %d of the jobs %v are in time, best are %d", i, o.served, all, most)
		}
	}
}

// earliestDueFirst reports whether the jobs of a set are all in time if, each day, the one that is due first is
// worked on.
func earliestDueFirst(all []job, set uint, usable []bool) bool {
	left := make([]int, len(all))
	for i, j := range all {
		left[i] = j.time * int(set>>i&1)
	}
	for day, ok := range usable {
		first := -1
		for i, j := range all {
			if left[i] > 0 && j.release <= day && (first < 0 || j.due < all[first].due) {
				first = i
			}
		}
		if first >= 0 && ok {
			left[first]--
		}
		for i, j := range all {
			if left[i] > 0 && j.due <= day+1 {
				return false
			}
		}
	}
	return true
}

// P. Hall, On representatives of subsets, Journal of the London Mathematical Society 10 (1935), 26-30, with the count
// of O. Ore, Graphs and matching theorems, Duke Mathematical Journal 22 (1955), 625-639; from memory: the most that
// can be matched is the number of all minus the largest excess of a set over its neighbours. One day, and each plot
// is suited by a set of tools.
func TestHall(t *testing.T) {
	r := rand.New(rand.NewPCG(1935, 1))
	for i := range 60 {
		suits := make([]uint, 2+r.IntN(8)) // sets of tools
		const tools = 6
		for k := range suits {
			suits[k] = uint(r.IntN(1 << tools))
			suits[k] &= uint(r.IntN(1 << tools)) // fewer
		}
		excess := 0
		for set := range uint(1) << len(suits) {
			var neighbours uint
			for k, s := range suits {
				if set>>k&1 == 1 {
					neighbours |= s
				}
			}
			excess = max(excess, bits.OnesCount(set)-bits.OnesCount(neighbours))
		}
		var all []job
		for range suits {
			all = append(all, job{1, 0, 1})
		}
		p := jobs(tools, 1, all...)
		for k, s := range suits {
			for tool := range tools {
				p.Plots[k].Need[tool] = int(s >> tool & 1)
			}
		}
		if o := planned(t, p); o.served != len(suits)-excess {
			t.Errorf("%d: sets %s: %d served, %d can be", i, fmt.Sprintf("%06b", suits), o.served, len(suits)-excess)
		}
	}
}

// planned returns the values of the objectives of the roster of a problem.
func planned(t *testing.T, p circle.Problem) optimum {
	t.Helper()
	_, o := plannedRoster(t, p)
	return o
}

// servedPlots returns which plots have their whole need in their window, counted in the turns.
func servedPlots(p circle.Problem, r circle.Roster) []bool {
	left, served := make([]int, len(p.Plots)), make([]bool, len(p.Plots))
	for _, turn := range r.Turns {
		plot := p.Plots[turn.Plot]
		if left[turn.Plot] == 0 {
			left[turn.Plot] = plot.Need[turn.Tool]
		}
		if turn.Day >= plot.Opens && turn.Day <= plot.Closes {
			left[turn.Plot]--
			served[turn.Plot] = left[turn.Plot] == 0
		}
	}
	return served
}
