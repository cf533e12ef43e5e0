package season

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
)

// wideTool is too wide for rows of 20 cm, which are weeded by hand then.
const wideTool = "22"

// maxUnasked is for how many days after planting nobody is asked whether the plot was weeded before.
const maxUnasked = 12

// planting is what a grower answers about a new plot.
type planting struct {
	ago     int    // days since planting
	water   string // the choice: 1 always, 2 comes and goes, 3 only wet
	spacing string
	tool    string
	area    int
}

// draw draws a planting. Most fields are planted on the day of registration, a few long before.
func (g *grower) draw() planting {
	p := planting{water: fmt.Sprint(1 + g.r.IntN(3)), spacing: fmt.Sprint(1 + g.r.IntN(2)), tool: "1",
		area: 100 * (2 + g.r.IntN(9))}
	if g.chance(0.5) {
		p.ago = 1 + g.r.IntN(14)
	}
	if g.chance(0.04) {
		p.ago = 15 + g.r.IntN(20)
	}
	switch draw := g.r.Float64(); {
	case draw < 0.08:
		p.tool = "4" // none yet
	case draw < 0.12:
		p.tool = wideTool
		p.spacing = "1"
	}
	return p
}

// screens say what the grower answers on the way to a new plot. A screen is known by how it begins.
func (p planting) screens(d engine.Day) [][2]string {
	day := "1"
	if p.ago > 0 {
		_, month, date := (d - engine.Day(p.ago)).Date()
		day = fmt.Sprintf("%02d%02d", date, month)
	}
	return [][2]string{
		{"rowbell texts you", "1"}, {"What now?", "1"}, {"How is the rice planted?", "1"},
		{"When was it planted?", day}, {"Weeded since then?", "1"}, {"Does water stand", p.water},
		{"How far apart", p.spacing}, {"How wide is your weeder?", p.tool}, {"1 yes, ", "1"}, // if the tool is too wide
		{"How big?", strconv.Itoa(p.area)},
	}
}

// answerTo returns the answer to a screen; "" if the screen is not on the way.
func answerTo(screen string, screens [][2]string) string {
	for _, s := range screens {
		for line := range strings.Lines(screen) {
			if strings.HasPrefix(line, s[0]) {
				return s[1]
			}
		}
	}
	return ""
}

// maxScreens is how many screens may lead to a new plot.
const maxScreens = 16

// register registers the grower's plots.
func (g *grower) register(ctx context.Context, w *world, d engine.Day) error {
	for len(g.plots) < g.habit.plots {
		p := g.draw()
		screen, err := g.newPlot(ctx, w, d, p)
		if err != nil {
			return err
		}
		no, saved := savedPlot(screen)
		if !saved {
			w.found.add("%s: no plot was saved with %+v on %s: %q", g, p, d, screen)
			g.habit.plots-- // not tried again
			continue
		}
		planted := d - engine.Day(p.ago)
		g.plots = append(g.plots, &plot{no: no, planted: planted, area: p.area, weeds: g.grow(planted)})
	}
	g.registered = d
	return nil
}

// newPlot walks to a new plot, by one code with all answers or screen by screen, and returns the last screen.
func (g *grower) newPlot(ctx context.Context, w *world, d engine.Day, p planting) (screen string, err error) {
	answers := p.screens(d)
	if g.habit.menu {
		screen, err = g.dial(ctx, w, "*123#")
	} else {
		code := "*123"
		for i, a := range answers {
			// Who is known is not asked for consent. The question about weedings comes only if there is time for one.
			if i == 0 && len(g.plots) > 0 || a[0] == "Weeded since then?" && p.ago <= maxUnasked ||
				a[0] == "1 yes, " && p.tool != wideTool {
				continue
			}
			code += "*" + a[1]
		}
		screen, err = g.dial(ctx, w, code+"#")
	}
	for range maxScreens {
		if err != nil {
			return "", err
		}
		entry := answerTo(screen, answers)
		if _, saved := savedPlot(screen); saved || entry == "" {
			break
		}
		screen, err = g.enter(ctx, w, entry)
	}
	return screen, err
}

// savedPlot returns the number of the plot that a screen says was saved.
func savedPlot(screen string) (no int, saved bool) {
	n, err := fmt.Sscanf(screen, "Saved: Plot %d,", &no)
	return no, n == 1 && err == nil
}
