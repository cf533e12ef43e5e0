// Package engine is rowbell's agronomy: when a hand-pushed rotary weeder does
// the most good in line-planted lowland rice, whether it fits the rows, and
// when the crop has closed and the work is over.
//
// It is pure arithmetic on values: no clock, no files, no SQL, no text for
// people. Days are civil day numbers (Day), lengths and areas carry their unit
// in the name. A grower's own observation always beats the model.
//
//	season := engine.Season{Plot: plot, Tool: tool, Weather: weather}
//	plan, err := season.Plan(today)
//	// plan.State, plan.Next.Opens, plan.Next.Closes, plan.LastToolDay
//
// What it does not know: yields, doses, the grower's health, whether the phone
// network delivered anything. Each constant stands in facts.go with its unit
// and its source.
package engine
