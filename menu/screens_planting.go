package menu

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

const (
	fLength Field = "length" // length of the side along the rows, in m
	fWidth  Field = "width"  // length of the other side, in m
	fSown   Field = "sown"   // day on which the nursery was sown
)

// plantingScreens help to plan a planting. The grower needs no registered plot for them.
func plantingScreens() []Screen {
	screens := []Screen{
		{ID: "planting", Rest: true, Ask: "planting.ask", Choices: []Choice{
			{Label: "planting.field", To: "planting.sides"},
			{Label: "planting.tool", To: "planting.tool"},
			{Label: "planting.ready", To: "nursery"},
			{Label: "planting.water", To: "planting.when"},
		}},
	}
	return slices.Concat(screens, fieldScreens(), []Screen{
		{ID: "planting.tool", Ask: "planting.width-ask",
			Typed: &Typed{Read: readTool, To: "planting.spacing", Samples: []string{"15", "22.5", "12.5-17.5"}}},
		{ID: "planting.spacing", Rest: true, Head: spacingHead, Choices: []Choice{
			{Label: "planting.other-tool", To: "planting.tool"},
			{Label: "planting.field", To: "planting.sides"},
		}},

		{ID: "nursery", Ask: "nursery.ask",
			Typed: &Typed{Read: readPastDate(fSown, answer.NurseryReach), To: "nursery.ready",
				Samples: []string{"1", "12", "18", "30", "60", "5/12"}}},
		{ID: "nursery.ready", Rest: true, Head: readyHead, Choices: []Choice{
			{Label: "nursery.next", To: "planting.when"},
		}},

		{ID: "planting.when", Ask: "planting.when-ask",
			Choices: []Choice{{Label: "new.when.today",
				Prep: prep(func(c *scene) { c.s.put(fPlanted, strconv.Itoa(int(c.saidOn()))) }), To: "planting.flood"}},
			Typed: &Typed{Read: readDate(fPlanted, answer.PlanReach, "refuse.date"), To: "planting.flood",
				Samples: []string{"0512", "20/11", "28 nov"}}},
		{ID: "planting.flood", Rest: true, Head: floodHead, Choices: []Choice{
			{Label: "planting.puddling", To: "planting.puddling"},
		}},
		{ID: "planting.puddling", Rest: true, Head: puddlingHead},
	})
}

// fieldScreens plan the rows, hills and seedlings of one field.
func fieldScreens() []Screen {
	return []Screen{
		{ID: "planting.sides", Ask: "planting.sides-ask",
			Choices: []Choice{{Label: "new.area.steps", To: "planting.steps"}},
			Typed: &Typed{Read: readSides(inMetres), Sides: true,
				To: "planting.rows", Samples: []string{"20*30", "200*5000", "999.9x999.9"}}},
		{ID: "planting.steps", Ask: "new.area.steps-ask",
			Args: func(c *scene) text.Args { return text.Args{"step": number(c.m.opt.StepM * 100)} },
			Typed: &Typed{Read: readSides(inSteps), Sides: true, To: "planting.rows",
				Samples: []string{"25*40", "999x999"}}},
		{ID: "planting.rows", Ask: "planting.rows-ask", Head: sidesHead, List: plannedRows,
			Typed: &Typed{Read: readRow, To: "planting.hills", Samples: []string{"5", "22.5"}}},
		{ID: "planting.width", Ask: "planting.width-ask",
			Typed: &Typed{Read: readRowForTool, To: "planting.hills", Samples: []string{"15", "12.5-17.5"}}},
		{ID: "planting.hills", Head: plannedRowHead, Ask: "new.hills.ask",
			Args: func(c *scene) text.Args { return text.Args{"row": number(c.s.float(fRow))} },
			Choices: []Choice{
				{Label: "new.hills.same",
					Prep: prep(func(c *scene) { c.putNumber(fHill, c.s.float(fRow)) }), To: "planting.seedlings"},
				{Label: "new.hills.other", To: "planting.hills.other"},
			},
			Typed: &Typed{Read: readHill, To: "planting.seedlings", Samples: []string{"22.5"}}},
		{ID: "planting.hills.other", Ask: "new.hills.other-ask",
			Typed: &Typed{Read: readHill, To: "planting.seedlings", Samples: []string{"5", "22.5"}}},
		{ID: "planting.seedlings", Ask: "planting.seedlings-ask",
			Typed: &Typed{Read: readWhole(fSeedlings, 1, engine.MaxSeedlingsPerHill), To: "planting.layout",
				Samples: []string{"1", "3", "12"}}},
		{ID: "planting.layout", Rest: true, Head: layoutHead, Choices: []Choice{
			{Label: "planting.more", To: "planting.seed"},
		}},
		{ID: "planting.seed", Rest: true, Head: seedHead},
	}
}

func sidesHead(c *scene) string {
	return c.t("planting.sides-read",
		text.Args{"length": number(c.s.float(fLength)), "width": number(c.s.float(fWidth))})
}

// plannedRows lists the row spacings for a planned field: the two usual ones, any spacing that suits a tool (the next
// screen asks for the tool), and the spacing that suits the grower's own tool. The own tool is the tool of the first
// plot that has one.
func plannedRows(c *scene) []Choice {
	usual := func(cm float64) Choice {
		return Choice{Label: "word.cm", Args: text.Args{"cm": number(cm)},
			Set: map[Field]string{fRow: stored(cm)}, To: "planting.hills"}
	}
	list := []Choice{usual(engine.UsualRowLowCM), usual(engine.UsualRowHighCM),
		{Label: "planting.by-tool", To: "planting.width"}}
	for _, s := range c.seasons() {
		if _, row, _, ok := engine.SpacingFor(s.Tool); ok {
			return append(list, Choice{Label: "planting.mine", Args: text.Args{"row": number(row)},
				Set: map[Field]string{fRow: stored(row)}, To: "planting.hills"})
		}
	}
	return list
}

// widths returns the narrowest and the widest setting of a tool, in cm. Both are equal for a tool that is not
// adjustable.
func widths(t engine.Tool) (from, to float64) { return t.WidthCM, max(t.WidthCM, t.MaxWidthCM) }

func plannedRowHead(c *scene) string {
	return c.t("new.spacing-row", text.Args{"row": number(c.s.float(fRow))})
}

// layout calculates the rows, hills and seedlings of a field from the answers. layout returns false if an answer is
// missing or out of range.
func (c *scene) layout() (engine.Layout, bool) {
	l, err := engine.Planting{
		LengthM: c.s.float(fLength), WidthM: c.s.float(fWidth),
		RowCM: c.s.float(fRow), HillCM: c.s.float(fHill),
		SeedlingsPerHill: c.s.int(fSeedlings),
	}.Layout()
	return l, err == nil
}

func layoutHead(c *scene) string {
	l, ok := c.layout()
	if !ok {
		return c.t("refuse.plot", nil)
	}
	return c.t("planting.numbers", text.Args{"area": whole(l.AreaM2), "rows": l.Rows, "each": l.HillsPerRow,
		"hills": l.Hills, "seedlings": l.Seedlings})
}

// seedHead says what to prepare: the seed, the nursery and the marked string.
func seedHead(c *scene) string {
	l, ok := c.layout()
	if !ok {
		return c.t("refuse.plot", nil)
	}
	head := c.t("planting.seed", text.Args{"seed": c.seedWeight(l.SeedKG),
		"nursery": c.fromTo(l.NurseryM2Low, l.NurseryM2High)})
	str := text.Key("planting.string-along")
	if l.StringAcross {
		str = "planting.string-across"
	}
	head += " " + c.t(str, text.Args{"string": number(l.StringM), "mark": number(l.MarkEveryCM),
		"move": number(l.MoveCM)})
	switch l.SeedWarning {
	case engine.SeedFarBelow:
		head += " " + c.t("planting.far-below", nil)
	case engine.SeedFarAbove:
		head += " " + c.t("planting.far-above", nil)
	}
	return head
}

// seedWeight writes "850 g" below 1 kg, "1.2 kg" below 10 kg, then whole kg.
func (c *scene) seedWeight(kg float64) string {
	const gramsKG, exact = 1000, 10
	switch {
	case kg < 1:
		return c.t("planting.grams", text.Args{"g": whole(max(kg*gramsKG, 1))})
	case kg < exact:
		return c.t("planting.kilos", text.Args{"kg": number(kg)})
	}
	return c.t("planting.kilos", text.Args{"kg": whole(kg)})
}

func spacingHead(c *scene) string {
	t := c.draftTool()
	least, low, high, ok := engine.SpacingFor(t)
	if !ok {
		return c.t("refuse.plot", nil)
	}
	return c.t("planting.spacing", text.Args{"tool": c.fromTo(widths(t)), "rows": c.fromTo(low, high),
		"least": number(least)})
}

// minLeavesTold is the smallest number of leaves that the screen shows, because growers do not count fewer leaves in a
// nursery (judgement).
const minLeavesTold = 1.5

// readyHead shows how many leaves the seedlings have according to the model, and when to plant them. readyHead adds
// that the grower's own count of leaves decides.
func readyHead(c *scene) string {
	w, err := c.places.Weather()
	c.fail(err)
	sown := day(c.s.int(fSown))
	// The grower is not asked for the variety, so the longest duration of any variety is assumed.
	n := w.Seedlings(sown, c.today(), engine.MaxDurationDays)
	k := text.Key("nursery.sown")
	switch {
	case sown > c.today():
		k = "nursery.to-sow"
	case n.LeavesToday >= minLeavesTold && c.today() <= n.ReadyTo:
		k = "nursery.leaves"
	}
	head := c.t(k, text.Args{"when": c.dayAgo(sown), "leaves": wholeAndHalf(n.LeavesToday)})
	args := text.Args{"from": c.date(n.ReadyFrom), "to": c.date(n.ReadyTo)}
	switch {
	case int(n.ReadyFrom-sown) > engine.MaxSeedlingAgeDays:
		head += " " + c.t("nursery.cold", nil)
	case c.today() >= n.TooOldFrom:
		head += " " + c.t("nursery.too-old", nil)
	case c.today() > n.ReadyTo:
		head += " " + c.t("nursery.late", args)
	case c.today() >= n.ReadyFrom:
		head += " " + c.t("nursery.now", args)
	default:
		head += " " + c.t("nursery.soon", args)
	}
	return head + " " + c.t("nursery.rule", nil)
}

// wholeAndHalf rounds a number of leaves down to a whole or a half, because growers count leaves in halves.
func wholeAndHalf(leaves float64) text.Decimal { return number(math.Floor(2*leaves) / 2) }

func floodHead(c *scene) string {
	return c.t("planting.flood", text.Args{"when": c.dayAgo(engine.FirstFlood(day(c.s.int(fPlanted)))),
		"cm": number(engine.FirstFloodCM)})
}

// puddlingHead says how to puddle before the planned planting. If it is too late for a first puddling, it names only
// the last one.
func puddlingHead(c *scene) string {
	planned := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: day(c.s.int(fPlanted))}}
	var lines []string
	for _, o := range planned.Around(c.today()) {
		first := o.Kind == engine.PuddleFirst && o.When != engine.Past
		if first || o.Kind == engine.PuddleLast {
			lines = append(lines, c.dueWork(o))
		}
	}
	return strings.Join(lines, "\n")
}
