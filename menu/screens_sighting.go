package menu

import (
	"strconv"

	"rowbell/engine"
	"rowbell/menu/text"
)

// rowsAskedFromShade is a share of the ground that the rice shades according to the model (0 to 1). From this share on,
// the grower is asked whether the rows have closed (judgement).
const rowsAskedFromShade = 0.5

// seeScreens ask what weeds the grower sees: their leaves and their amount. Late in the season they also ask whether
// water is still visible between the rows. The answers replace the model's values.
func seeScreens() []Screen {
	set := func(f Field, v uint8) map[Field]string { return map[Field]string{f: strconv.Itoa(int(v))} }
	// Where no weeds are up, their amount is not asked.
	none := map[Field]string{fLeaves: strconv.Itoa(int(engine.NoneUp)), fAmount: "0"}
	return []Screen{
		{ID: "see.leaves", Ask: "see.leaves.ask", Args: plotArgs, Choices: []Choice{
			{Label: "see.leaves.none", Set: none, To: "see.rows"},
			{Label: "see.leaves.one", Set: set(fLeaves, uint8(engine.OneLeaf)), To: "see.amount"},
			{Label: "see.leaves.two", Set: set(fLeaves, uint8(engine.TwoThree)), To: "see.amount"},
			{Label: "see.leaves.four", Set: set(fLeaves, uint8(engine.FourPlus)), To: "see.amount"},
		}},
		{ID: "see.amount", Ask: "see.amount.ask", Choices: []Choice{
			{Label: "word.few", Set: set(fAmount, uint8(engine.Few)), To: "see.rows"},
			{Label: "word.some", Set: set(fAmount, uint8(engine.Some)), To: "see.rows"},
			{Label: "word.many", Set: set(fAmount, uint8(engine.Many)), To: "see.rows"},
		}},
		{ID: "see.rows", When: rowsMayClose, Else: "see.sure", Ask: "see.rows.ask", Choices: []Choice{
			{Label: "word.yes", Set: set(fRows, uint8(engine.RowsOpen)), Do: see, To: "see.done"},
			{Label: "word.no", Set: set(fRows, uint8(engine.RowsClosed)), Do: see, To: "see.done"},
		}},
		{ID: "see.sure", Ask: "see.sure.ask", Args: seenArgs, Choices: []Choice{
			{Label: "see.sure.yes", Set: set(fRows, 0), Do: see, To: "see.done"},
			{Label: "see.sure.no", To: "see.leaves"},
		}},
		{ID: "see.done", Rest: true, Head: seenHead},
	}
}

func rowsMayClose(c *scene) bool {
	s := c.plot()
	return s.Plot.Method != engine.Broadcast && s.Shade(c.today()) >= rowsAskedFromShade
}

func see(c *scene) (*Refusal, error) {
	return nil, c.passes.See(c.s.int(fPlot), engine.Sighting{
		On:     c.saidOnOf(c.plot()),
		Leaves: engine.Leaves(c.s.int(fLeaves)),
		Amount: engine.Amount(c.s.int(fAmount)),
		Rows:   engine.Rows(c.s.int(fRows)),
	})
}

// leafKeys and amountKeys are the texts of what a grower saw.
var leafKeys = map[engine.Leaves]text.Key{
	engine.NoneUp: "see.leaves.none", engine.OneLeaf: "see.leaves.one", engine.TwoThree: "see.leaves.two",
	engine.FourPlus: "see.leaves.four",
}

var amountKeys = map[engine.Amount]text.Key{
	engine.Few: "word.few", engine.Some: "word.some", engine.Many: "word.many",
}

// seenArgs gives the leaves and the amount of weeds that the grower entered. The screen shows them before they are
// stored, because they change the dates of the plot.
func seenArgs(c *scene) text.Args {
	leaves, amount := leafKeys[engine.Leaves(c.s.int(fLeaves))], amountKeys[engine.Amount(c.s.int(fAmount))]
	switch {
	case leaves == "":
		return text.Args{"seen": ""}
	case amount == "":
		return text.Args{"seen": c.t(leaves, nil)}
	}
	return text.Args{"seen": c.t("see.sure.seen", text.Args{"leaves": c.t(leaves, nil), "amount": c.t(amount, nil)})}
}

func seenHead(c *scene) string {
	name, _, p := c.thisPlot()
	args := text.Args{"plot": name, "next": c.next(p)}
	big := engine.Leaves(c.s.int(fLeaves)) == engine.FourPlus
	if p.State == engine.Closed && engine.Amount(c.s.int(fAmount)) == engine.Many || p.Fit.Hand() && big &&
		!p.Next.Contains(c.today()) {
		return c.t("see.done.pull", args)
	}
	return c.t("see.done.head", args)
}
