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
	return []Screen{
		{ID: "see.leaves", Ask: "see.leaves.ask", Args: plotArgs, Choices: []Choice{
			{Digit: '1', Label: "see.leaves.one", Set: set(fLeaves, uint8(engine.OneLeaf)), To: "see.amount"},
			{Digit: '2', Label: "see.leaves.two", Set: set(fLeaves, uint8(engine.TwoThree)), To: "see.amount"},
			{Digit: '3', Label: "see.leaves.four", Set: set(fLeaves, uint8(engine.FourPlus)), To: "see.amount"},
		}},
		{ID: "see.amount", Ask: "see.amount.ask", Choices: []Choice{
			{Digit: '1', Label: "word.few", Set: set(fAmount, uint8(engine.Few)), To: "see.rows"},
			{Digit: '2', Label: "word.some", Set: set(fAmount, uint8(engine.Some)), To: "see.rows"},
			{Digit: '3', Label: "word.many", Set: set(fAmount, uint8(engine.Many)), To: "see.rows"},
		}},
		{ID: "see.rows", When: rowsMayClose, Else: "see.sure", Ask: "see.rows.ask", Choices: []Choice{
			{Digit: '1', Label: "word.yes", Set: set(fRows, uint8(engine.RowsOpen)), Do: see, To: "see.done"},
			{Digit: '2', Label: "word.no", Set: set(fRows, uint8(engine.RowsClosed)), Do: see, To: "see.done"},
		}},
		{ID: "see.sure", Ask: "see.sure.ask", Args: seenArgs, Choices: []Choice{
			{Digit: '1', Label: "see.sure.yes", Set: set(fRows, 0), Do: see, To: "see.done"},
			{Digit: '2', Label: "see.sure.no", To: "see.leaves"},
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
		On:     c.today(),
		Leaves: engine.Leaves(c.s.int(fLeaves)),
		Amount: engine.Amount(c.s.int(fAmount)),
		Rows:   engine.Rows(c.s.int(fRows)),
	})
}

// seenArgs gives the leaves and the amount of weeds that the grower entered. The screen shows them before they are
// stored, because they change the dates of the plot.
func seenArgs(c *scene) text.Args {
	leaves := map[int]text.Key{1: "see.leaves.one", 2: "see.leaves.two", 3: "see.leaves.four"}[c.s.int(fLeaves)]
	amount := map[int]text.Key{1: "word.few", 2: "word.some", 3: "word.many"}[c.s.int(fAmount)]
	if leaves == "" || amount == "" {
		return text.Args{"leaves": "", "amount": ""}
	}
	return text.Args{"leaves": c.t(leaves, nil), "amount": c.t(amount, nil)}
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
