package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// Days from planting to panicle initiation. 65 days before harvest are IRRI's figure, 60 days Yoshida's (1981, p. 221,
// for a variety of 120 days). The temperatures are those at which the heat of the parameter files fits these days.
func TestOldSeedlingsFormPaniclesEarlierAfterPlanting(t *testing.T) {
	for _, c := range []struct {
		meanC          float64
		duration, aged int
		days           Day
	}{
		{25.4, 130, 20, 45}, {25.4, 150, 20, 65}, {25.4, 150, 30, 55}, {27, 120, 20, 40}, {27, 120, 30, 30},
	} {
		p := flooded(20)
		p.DurationDays, p.SeedlingAgeDays = c.duration, c.aged
		s := Season{Plot: p, Weather: Steady(c.meanC, c.meanC)}
		if d := s.PanicleInitiation() - p.Planted; apart(d, c.days) > 1 {
			t.Errorf("%d days, seedlings of %d: day %d after planting, want %d", c.duration, c.aged, d, c.days)
		}
	}
}

// The weeds count from the last puddling. They do not wait for the rice, but the tool does.
func TestPuddlingSetsTheClockOfTheWeeds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		s.Passes, s.Plot.Puddled = nil, 0
		before := Day(rapid.IntRange(0, 12).Draw(t, "puddled before"))
		late, early := s, s
		early.Plot.Puddled = s.Plot.Planted - before
		planted := s.Plot.Planted
		a, b := must(early.Windows(planted)).Next, must(late.Windows(planted)).Next
		if a.Opens > b.Opens || a.Opens < planted+FirstPassDays {
			t.Errorf("puddled %d days before planting: %+v, on the day of planting %+v", before, a, b)
		}
		// At a steady temperature the same window comes as many days earlier, until the plants hold it up.
		if at := b.Opens - before; at >= planted+FirstPassDays+1 && a.Opens != at {
			t.Errorf("puddled %d days before planting: opens on day %d, want %d", before, a.Opens-planted, at-planted)
		}
		// After a second puddling only its day counts.
		if c, d := early.weeds().field(), late.weeds().field(); c != d {
			t.Error("the day of puddling changes how fast weeds grow")
		}
	})
}

// Seedlings that spent more heat in the nursery stand still for longer after planting: with the same leaf area they
// shade the ground later. The weeds do not know the age of the seedlings.
func TestSeedlingAgeMovesTheCropNotTheWeeds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		young, old := s, s
		young.Plot.SeedlingAgeDays = rapid.IntRange(MinSeedlingAgeDays, MaxSeedlingAgeDays-1).Draw(t, "age")
		old.Plot.SeedlingAgeDays = rapid.IntRange(young.Plot.SeedlingAgeDays+1, MaxSeedlingAgeDays).Draw(t, "older")
		wantEqual(t, "window of the weeds", old.nextWindow(s.Plot.Planted), young.nextWindow(s.Plot.Planted))
		rows, big := young.cropEnds()
		oldRows, oldBig := old.cropEnds()
		if oldRows < rows {
			t.Errorf("rows close on %s, with older seedlings on %s", rows, oldRows)
		}
		wantEqual(t, "plants too big", oldBig, big)
		if a, b := young.PanicleInitiation(), old.PanicleInitiation(); b > a {
			t.Errorf("panicles on %s, with older seedlings on %s", a, b)
		}
	})
}
