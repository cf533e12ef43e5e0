// Package engine computes rowbell's advice on weeding rice: on which days a hand-pushed rotary weeder works best in
// lowland rice planted in lines, whether the weeder fits between the rows, and from which day on the crop shades the
// ground so that no more weeding is needed.
//
// The package only computes: it reads no clock and no files, uses no SQL, and writes no text for people. Days are civil
// day numbers (Day). The name of each length and area contains its unit. If the grower saw something else than the
// model computed, the engine uses what the grower saw.
//
//	season := engine.Season{Plot: plot, Tool: tool, Weather: weather}
//	plan, err := season.Plan(today)
//	// plan.State, plan.Next.Opens, plan.Next.Closes, plan.Closure.LastToolDay
//
// The package says nothing about yields, pesticide doses or health, and does not know whether the phone network
// delivered a text. Each constant is declared in the file facts_<subject>.go of its subject, with its unit and source.
// The function Facts lists all constants.
package engine
