package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

const (
	fRowMax  Field = "rowmax"  // widest of several row spacings, in cm
	fHeights Field = "heights" // heights of people in cm, with spaces between them
)

// smithScreens ask for the data of an order for a tool: the rows, the soil, and the heights of the people who will push
// the tool. The order is sent to the grower as a text, which the grower shows to the smith.
func smithScreens() []Screen {
	soil := func(s engine.Soil) map[Field]string { return map[Field]string{fSoil: strconv.Itoa(int(s))} }
	return []Screen{
		{ID: "smith", When: hasRows, Else: "smith.rows", Ask: "smith.ask", List: ownRows,
			Choices: []Choice{{Label: "smith.other", To: "smith.rows"}},
			Typed:   &Typed{Read: readRows, To: "smith.soil", Samples: []string{"22.5"}}},
		{ID: "smith.rows", Ask: "smith.rows-ask", Typed: &Typed{Read: readRows, To: "smith.soil",
			Samples: []string{"20", "20 25", "22.5-34.5", "22.5-99.5", "12.5-22.5"}}},
		{ID: "smith.narrow", Rest: true, Head: narrowHead,
			Choices: []Choice{{Label: "smith.other", To: "smith.rows"}}},
		{ID: "smith.soil", When: roomForTool, Else: "smith.narrow", Head: orderRowsHead, Ask: "smith.soil-ask",
			Choices: []Choice{
				{Label: "smith.clay", Set: soil(engine.SoilHeavy), To: "smith.people"},
				{Label: "smith.other-soil", Set: soil(engine.SoilUnknown), To: "smith.people"},
			}},
		{ID: "smith.people", Ask: "smith.people-ask",
			Choices: []Choice{{Label: "smith.usual", Set: map[Field]string{fHeights: ""},
				To: "smith.order"}},
			Typed: &Typed{Read: readHeights, To: "smith.order",
				Samples: []string{"165", "5ft4", "220 220", "125 195"}}},
		{ID: "smith.order", Rest: true, Head: orderHead, Choices: []Choice{
			{Label: "smith.send", Do: sendOrder, To: "smith.sent"},
			{Label: "tools.strip", To: "strip"},
		}},
		{ID: "smith.sent", Rest: true, Ask: "smith.sent",
			Choices: []Choice{{Label: "tools.strip", To: "strip"}}},
	}
}

// plotRows returns the narrowest and the widest row spacing of the grower's plots, in cm. Both are 0 if no plot has
// rows.
func (c *scene) plotRows() (from, to float64) {
	for _, s := range c.seasons() {
		if row := s.Plot.RowSpacingCM; s.Plot.Method != engine.Broadcast && row > 0 {
			if from == 0 || row < from {
				from = row
			}
			to = max(to, row)
		}
	}
	return from, to
}

// seasons reads the season of every open plot of the grower.
func (c *scene) seasons() []engine.Season {
	var out []engine.Season
	for _, no := range c.openPlots() {
		out = append(out, c.plotNo(no))
	}
	return out
}

func hasRows(c *scene) bool {
	from, _ := c.plotRows()
	return from > 0
}

// ownRows offers to order one tool that suits the rows of all the grower's plots.
func ownRows(c *scene) []Choice {
	from, to := c.plotRows()
	if from == 0 {
		return nil
	}
	return []Choice{{Label: "smith.mine", Args: text.Args{"rows": c.fromTo(from, to)},
		Set: map[Field]string{fRow: stored(from), fRowMax: stored(to)}, To: "smith.soil"}}
}

// fromTo is numberRange of two values as the records have them.
func (c *scene) fromTo(from, to float64) string { return c.numberRange(number(from), number(to)) }

// roomForTool reports whether the narrowest tool that smiths make fits between the rows.
func roomForTool(c *scene) bool {
	return c.s.float(fRow)-2*engine.SideClearanceCM >= engine.NarrowestMadeCM
}

func narrowHead(c *scene) string {
	row := c.s.float(fRow)
	return c.t("smith.narrow", text.Args{"row": number(row), "tool": number(row - 2*engine.SideClearanceCM),
		"least": engine.NarrowestMadeCM, "need": number(engine.NarrowestMadeCM + 2*engine.SideClearanceCM)})
}

func orderRowsHead(c *scene) string {
	return c.t("smith.rows-read", text.Args{"rows": c.fromTo(c.s.float(fRow), c.s.float(fRowMax))})
}

// order makes the order for a tool from the answers. order returns false if the answers are not enough for an order.
func (c *scene) order() (engine.Order, bool) {
	var heights []float64
	for f := range strings.FieldsSeq(c.s.Answers[fHeights]) {
		cm, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return engine.Order{}, false
		}
		heights = append(heights, cm)
	}
	o, err := engine.OrderOf([]float64{c.s.float(fRow), c.s.float(fRowMax)}, engine.Soil(c.s.int(fSoil)), heights)
	return o, err == nil
}

// orderHead repeats the order as it was understood, before it is sent.
func orderHead(c *scene) string {
	o, ok := c.order()
	if !ok {
		return c.t("refuse.plot", nil)
	}
	said := []string{c.t("smith.head", text.Args{"width": c.toolWidth(o), "low": number(o.SmallestRowCM),
		"high": number(o.LargestRowCM)})}
	if o.WideTeeth {
		said = append(said, c.t("smith.teeth", nil))
	}
	said = append(said, c.handle(o))
	if c.s.float(fRowMax) > o.LargestRowCM {
		said = append(said, c.t("smith.wider", nil))
	}
	return strings.Join(said, " ")
}

func (c *scene) toolWidth(o engine.Order) string {
	k := text.Key("smith.width")
	if o.Adjustable {
		k = "smith.width-set"
	}
	return c.t(k, text.Args{"from": number(o.WidthFromCM), "to": number(o.WidthToCM)})
}

func (c *scene) handle(o engine.Order) string {
	k := text.Key("smith.handle")
	if o.HandleAdjustable {
		k = "smith.handle-set"
	}
	return c.t(k, text.Args{"from": whole(o.HandleFromCM), "to": whole(o.HandleToCM)})
}

// orderText returns the text that the grower shows to the smith.
func (c *scene) orderText(o engine.Order) string {
	k := text.Key("sms.order")
	if o.WideTeeth {
		k = "sms.order-clay"
	}
	return c.t(k, text.Args{"a": c.toolWidth(o), "b": c.handle(o)})
}

func sendOrder(c *scene) (*Refusal, error) {
	o, ok := c.order()
	if !ok {
		return &Refusal{Key: "refuse.plot"}, nil
	}
	c.send = append(c.send, Note{Kind: "order", Text: c.orderText(o)})
	return nil, c.err
}
