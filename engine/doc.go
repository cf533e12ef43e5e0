// Package engine is rowbell's agronomy: when a hand-pushed rotary weeder does the most good in line-planted lowland
// rice, whether it fits the rows, and when the crop has closed and the work is over.
//
// It is pure arithmetic on values: no clock, no files, no SQL, no text for people. Days are civil day numbers (Day),
// lengths and areas carry their unit in the name. What the grower saw always beats the model.
//
//	season := engine.Season{Plot: plot, Tool: tool, Weather: weather}
//	plan, err := season.Plan(today)
//	// plan.State, plan.Next.Opens, plan.Next.Closes, plan.Closure.LastToolDay
//
// It says nothing of yields, of pesticide doses or of health, and does not know whether the phone network delivered a
// text. Each constant stands in the facts_<subject>.go of its subject, with unit and source; Facts lists them.
package engine
