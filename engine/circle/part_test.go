package circle

import "testing"

// Crowded problems in which households share their hands among plots that different tools suit, with different needs.
// A search that decides the first conflict of each flow ends at the limit in all of them.
func TestPlotsOfOneHouseholdAreProven(t *testing.T) {
	c := crowd{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12, classes: true, shared: true}
	for _, seed := range []uint64{15, 20, 23, 25, 26, 28} {
		p := c.draw(seed)
		r := p.Solve(Limit{})
		if err := Verify(p, r); err != nil {
			t.Error(seed, err)
		}
		if !r.Proven || !r.HandoversProven || r.Bound != r.Served {
			t.Errorf("seed %d: proven %t, handovers proven %t, served %d of %d after %d nodes",
				seed, r.Proven, r.HandoversProven, r.Served, r.Bound, r.Nodes)
		}
	}
}

// Both ways in which the network sees a home are bounds: none is above the costs of the best roster.
func TestHomesTogetherAndApart(t *testing.T) {
	c := crowd{plots: 8, tools: 3, days: 10, needs: 3, windowMin: 3, windowMax: 8, classes: true, shared: true}
	differ := 0
	for seed := range uint64(100) {
		p := c.draw(seed)
		r := p.Solve(Limit{})
		m := newModel(p)
		m.connect()
		bounds := [2]int64{}
		for i, apart := range []uint64{0, allApart} {
			d := m.undecided()
			d.apart = apart
			m.apply(d, wholeReward)
			m.net.reset(m.source, m.back)
			if !m.net.optimise() {
				t.Fatal(seed, "no circulation")
			}
			bounds[i] = m.bound(d, wholeReward, 0).value
			if bounds[i] > -int64(r.Served)*wholeReward {
				t.Errorf("seed %d apart %t: bound %d, served %d", seed, i == 1, bounds[i], r.Served)
			}
		}
		if bounds[0] != bounds[1] {
			differ++
		}
	}
	if differ == 0 {
		t.Error("together and apart have the same bounds in all problems")
	}
}
