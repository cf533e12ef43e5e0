package menu

import (
	"math"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

const (
	fStands Field = "stands"
	fSoil   Field = "soil"
	fInlet  Field = "inlet" // flow of the water inlet in l/s
)

// waterScreens say how much water is on a plot, how much will be there on the day of weeding, and how much to let in or
// out. If the grower enters the depth that was seen, that depth replaces the depth that the model calculates. A grower
// who never spoke of the water is asked first.
func waterScreens() []Screen {
	stands := func(s engine.Stands) map[Field]string { return map[Field]string{fStands: strconv.Itoa(int(s))} }
	soil := func(s engine.Soil) map[Field]string { return map[Field]string{fSoil: strconv.Itoa(int(s))} }
	return []Screen{
		{ID: "water", Rest: true, When: waterKnown, Else: "water.see", Head: waterHead, Choices: []Choice{
			{Label: "water.see", If: isPlanted, To: "water.see"},
			{Label: "water.soil", To: "water.soil"},
			{Label: "water.inlet", To: "water.inlet"},
		}},
		{ID: "water.see", Ask: "water.see-ask", Choices: []Choice{
			{Label: "water.dry", Set: stands(engine.StandsDry), Do: seeWater, To: "water"},
			{Label: "water.mud", Set: stands(engine.StandsMud), Do: seeWater, To: "water"},
			{Label: "water.fingers", Set: stands(engine.StandsFingers), Do: seeWater, To: "water"},
			{Label: "water.hand", Set: stands(engine.StandsHand), Do: seeWater, To: "water"},
		}},
		{ID: "water.soil", Ask: "water.soil-ask", Choices: []Choice{
			{Label: "water.heavy", Set: soil(engine.SoilHeavy), Do: changeWater, To: "water"},
			{Label: "water.medium", Set: soil(engine.SoilMedium), Do: changeWater, To: "water"},
			{Label: "water.light", Set: soil(engine.SoilLight), Do: changeWater, To: "water"},
		}},
		{ID: "water.inlet", Ask: "water.inlet-ask",
			Typed: &Typed{Read: readNumber(fInlet, answer.Inlet), Do: changeWater, To: "water",
				Samples: []string{"10*5", "20 4", "15x0.5"}}},
	}
}

// waterNearDays is for how many days ahead the screen says how deep the water will be (judgement). Later, it depends on
// what is let in before.
const waterNearDays = 7

// waterKnown reports whether the depth of the water is known, or need not be, because the plot is not planted yet.
func waterKnown(c *scene) bool {
	s := c.plot()
	w := s.Water(c.today(), engine.Window{})
	return w.Known || !isPlanted(c)
}

// waterHead says how deep the water is, when the plot will have too little water, and how much to let in or out.
func waterHead(c *scene) string {
	name, s, p := c.thisPlot()
	if !isPlanted(c) {
		return c.t("water.ahead", text.Args{"plot": name})
	}
	return c.waterOf(name, s, p)
}

// waterOf says how deep the water of a planted plot is, and what to do about it.
func (c *scene) waterOf(name string, s engine.Season, p engine.Plan) string {
	w := s.Water(c.today(), p.Next)
	head := c.depth("water.now", w.DepthMM, text.Args{"plot": name})
	tool := p.Next.Exists() && !p.Fit.Hand() && p.State != engine.Missed
	if (!tool || w.On > c.today()+waterNearDays) && w.ShortOn > c.today() {
		head += " " + c.t("water.short", text.Args{"date": c.date(w.ShortOn)})
	}
	switch {
	case !tool:
		return head
	case w.On > c.today()+waterNearDays:
		return head + " " + c.t("water.need", nil)
	case w.On > c.today():
		head += " " + c.depth("water.then", w.OnDepthMM, text.Args{"date": c.date(w.On)})
	}
	switch w.Advice(p.Next) {
	case engine.WaterBring:
		head += " " + c.letIn(w)
		if w.SoilMM >= engine.DepthRoundMM {
			head += " " + c.t("water.soil-takes", text.Args{"cm": centimetres(w.SoilMM)})
		}
		return head
	case engine.WaterLower:
		return head + " " + c.t("water.lower", nil)
	case engine.WaterWait:
		return head + " " + c.t("water.wait", text.Args{"date": c.date(w.FallsOn)})
	}
	return head + " " + c.t("water.enough", nil)
}

// depth writes the depth of the water with the text k, or with the text k-none if there is no water.
func (c *scene) depth(k text.Key, mm float64, args text.Args) string {
	cm := centimetres(mm)
	if args["cm"] = cm; cm.Value == 0 {
		k += "-none"
	}
	return c.t(k, args)
}

func isPlanted(c *scene) bool { return c.plot().Plot.Planted <= c.today() }

// letIn says how much water raises the plot to the depth that the tool needs.
func (c *scene) letIn(w engine.Water) string {
	args := text.Args{"cm": centimetres(w.BringMM), "m3": whole(w.M3), "hours": duration(w.InflowHours)}
	switch {
	case w.M3 < 1:
		return c.t("water.bring", args)
	case w.InletWeak:
		return c.t("water.weak", args)
	case w.InflowHours > 0:
		return c.t("water.bring-hours", args)
	}
	return c.t("water.bring-m3", args)
}

// centimetres writes a depth in whole cm. Below 2 cm it rounds to half cm.
func centimetres(mm float64) text.Decimal {
	cm := mm / 10
	if cm < 2 {
		return number(math.Round(2*cm) / 2)
	}
	return whole(cm)
}

// duration writes hours. Below 3 hours it rounds to tenths, otherwise to whole hours.
func duration(h float64) text.Decimal {
	if h < 3 {
		return number(max(h, 0.1))
	}
	return whole(h)
}

func seeWater(c *scene) (*Refusal, error) {
	seen := engine.Sighting{On: c.saidOnOf(c.plot()), Water: engine.Stands(c.s.int(fStands))}
	return nil, c.passes.See(c.s.int(fPlot), seen)
}

// changeWater stores the soil or the inlet, depending on which question was answered.
func changeWater(c *scene) (*Refusal, error) {
	no := c.s.int(fPlot)
	s, err := c.plots.Season(no)
	if err != nil {
		return nil, err
	}
	if c.s.Answers[fSoil] != "" {
		s.Plot.Soil = engine.Soil(c.s.int(fSoil))
	}
	if c.s.Answers[fInlet] != "" {
		s.Plot.InflowLS = c.s.float(fInlet)
	}
	delete(c.s.Answers, fSoil)
	delete(c.s.Answers, fInlet)
	return nil, c.plots.ChangePlot(no, s.Plot, s.Tool)
}
