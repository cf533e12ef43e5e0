package season

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/engine"
	"rowbell/store"
)

// grower is one grower: the phone, the habits, the fields, and what was acknowledged.
type grower struct {
	i     int
	phone store.Phone
	r     *rand.Rand // all draws of this grower, in the order of what happens to the grower
	joins engine.Day
	habit habit

	plots      []*plot // by number, from 1 on, as far as they are saved
	registered engine.Day
	stopped    bool
	welcomed   int // how often
	sessions   int
	step       int
	written    int

	question question
	pending  *sent // what was written and is not answered yet

	toldHours *sent // the last hours that were told

	mu  sync.Mutex
	new []arrival // came since the grower looked at the phone
	got []arrival // all
}

func (g *grower) String() string { return fmt.Sprintf("grower %d", g.i) }

// arrival is a text on the phone.
type arrival struct {
	at       int64
	id, text string
}

func (g *grower) arrive(a arrival) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.new, g.got = append(g.new, a), append(g.got, a)
}

func (g *grower) take() []arrival {
	g.mu.Lock()
	defer g.mu.Unlock()
	list := g.new
	g.new = nil
	return list
}

// habit is how a grower uses the service.
type habit struct {
	plots   int
	menu    bool    // registers by the whole menu
	silent  bool    // never answers
	calls   bool    // logs weedings by a call
	looks   float64 // chance of a look a day while the question is open
	weeds   float64 // chance of weeding on a day on which the weeds have the right size
	hours   float64 // chance of telling the hours
	stopsOn engine.Day
	startOn engine.Day // 0: never again
}

// plot is a field, and what the service said that it noted about it.
type plot struct {
	no      int
	planted engine.Day
	area    int
	weeds   weeds
	passes  []logged // without those that were undone
	undone  []logged
	looks   []engine.Sighting
}

// logged is a pass that was acknowledged, with the days on which more was told of it; 0: it was not.
type logged struct {
	engine.Pass
	leftOn, hoursOn, undoneOn engine.Day
}

// onMorning returns the pass as it was known on the morning of a day; false if it was not known. It was told on its own
// day.
func (l logged) onMorning(d engine.Day) (engine.Pass, bool) {
	if l.leftOn >= d {
		l.Left = engine.AmountUnknown
	}
	if l.hoursOn >= d {
		l.Hours, l.People = 0, 0
	}
	return l.Pass, l.On < d && (l.undoneOn == 0 || l.undoneOn >= d)
}

// weeds is the truth about the weeds on a field since they were planted or weeded last.
type weeds struct {
	from     engine.Day
	emerge   float64 // days until they are up
	leafDays float64 // days for a leaf
}

// leaves returns how many leaves most weeds have.
func (w weeds) leaves(d engine.Day) float64 {
	return max(0, (float64(d-w.from)-w.emerge)/w.leafDays)
}

const (
	meanEmerge, scatterEmerge     = 6.0, 1.5
	meanLeafDays, scatterLeafDays = 3.5, 0.2
	misreads                      = 0.4 // error of a leaf count, in leaves
)

func newGrower(seed uint64, i int, first engine.Day) *grower {
	r := rand.New(rand.NewPCG(seed, uint64(i)))
	g := &grower{i: i, phone: stack.Phone(i), r: r, joins: first + engine.Day(r.IntN(joinDays))}
	g.habit = habit{plots: 1, menu: g.chance(0.1), silent: g.chance(0.1), calls: g.chance(0.15),
		looks: 0.4 + 0.5*r.Float64(), weeds: 0.2 + 0.6*r.Float64(), hours: r.Float64()}
	if g.chance(0.15) {
		g.habit.plots = 2
	}
	if g.chance(0.05) {
		g.habit.stopsOn = g.joins + 3 + engine.Day(r.IntN(40))
		if g.chance(0.6) {
			g.habit.startOn = g.habit.stopsOn + 2 + engine.Day(r.IntN(20))
		}
	}
	return g
}

// chance returns true with the probability p, from 0 to 1.
func (g *grower) chance(p float64) bool { return g.r.Float64() < p }

// grow lets new weeds grow on a field from a day on.
func (g *grower) grow(from engine.Day) weeds {
	return weeds{from, max(2, meanEmerge+scatterEmerge*g.r.NormFloat64()),
		meanLeafDays * math.Exp(scatterLeafDays*g.r.NormFloat64())}
}

// see returns the leaf count that the grower tells.
func (g *grower) see(p *plot, d engine.Day) engine.Leaves {
	switch seen := p.weeds.leaves(d) + misreads*g.r.NormFloat64(); {
	case seen < 0.5:
		return engine.NoneUp
	case seen < 1.5:
		return engine.OneLeaf
	case seen < 3.5:
		return engine.TwoThree
	}
	return engine.FourPlus
}

// plotNo returns the plot with a number; nil if the grower has none.
func (g *grower) plotNo(no int) *plot {
	for _, p := range g.plots {
		if p.no == no {
			return p
		}
	}
	return nil
}
