package menu

import "rowbell/engine"

// Book is what the menu needs of one grower's records, in the transaction that is running. Each group of screens uses
// only the interface of its subject. Plots are named by the number that the grower types, 1 to MaxPlots; methods
// return engine.ErrNoPlot for a number without an open plot.
type Book interface {
	GrowerRecords
	ConsentRecords
	NumberRecords
	PlaceRecords
	PlotRecords
	PassRecords
	HouseholdRecords
	TrialRecords
}

// GrowerRecords say who the grower is.
type GrowerRecords interface {
	Today() engine.Day // the grower's civil day
	Known() bool       // consent was given and records exist
	Language() string  // "" until chosen
	SetLanguage(language string) error
	Stopped() bool      // the grower wants no texts
	Via(channel string) // notes the channel used now, to be stored with consents
}

// ConsentRecords store what the grower agrees to, and end it.
type ConsentRecords interface {
	// Consent stores that the grower agreed to these words, as they were shown.
	Consent(language, words, channel string) error
	Stop() error
	Start() error
	// StoredCounts counts what is stored about the grower beside number, language and place: plots of all seasons,
	// the passes on them, texts sent or waiting.
	StoredCounts() (plots, passes, texts int, err error)
	Erase() error
}

// NumberRecords connect a phone number with records: a number may have changed hands, and a grower may change the
// number.
type NumberRecords interface {
	Silent() bool              // the phone was silent for so long that the menu asks who uses it
	Confirm() error            // stores that the phone still belongs to the grower
	Unlink() error             // separates the number, which another person has now, from the records
	MoveCode() (string, error) // six digits that bring the records to another phone, once, within two hours
	// TakeOver brings the records of a code to this number. A wrong code is counted: left is how many more may be
	// typed; 0 = none until the next day.
	TakeOver(code string) (ok bool, left int, err error)
}

// PlaceRecords are the growing areas.
type PlaceRecords interface {
	Places() (names []string, own int, err error) // own: index of the grower's place
	SetPlace(name string) error
	Weather() (engine.Weather, error) // weather of the grower's place
}

// PlotRecords are the grower's open plots.
type PlotRecords interface {
	Plots() ([]int, error) // numbers, ascending
	Season(no int) (engine.Season, error)
	AddPlot(engine.Plot, engine.Tool) (no int, err error)
	ChangePlot(no int, p engine.Plot, t engine.Tool) error
	ClosePlot(no int) error
}

// PassRecords store weedings (passes) and what growers see in the field (sightings).
type PassRecords interface {
	LogPass(no int, p engine.Pass) error
	AmendPass(no int, p engine.Pass) error // replaces the latest pass
	UndoPass(no int) error                 // removes the latest pass
	See(no int, s engine.Sighting) error
}

// HouseholdRecords store how many people weed, their hours a day, and the prices that the household told.
type HouseholdRecords interface {
	Household() (engine.Household, error)
	SetHousehold(engine.Household) error
	TellHerbicide(no int, price float64) error // price of treating the plot once; 0 = not told
}

// TrialRecords store a trial: two ways of weeding compared on two plots. A grower has one trial at a time.
type TrialRecords interface {
	SplitPlot(no int, labelA, labelB string) (noB int, err error) // makes a plot of each half
	StartTrial(noA, noB int, a, b engine.TrialWay) error
	Trial() (engine.TrialRecord, bool, error) // the running trial; false without one
	SetBags(a, b float64) error
	EndTrial() error
}

// MaxPlots is how many open plots one phone may have, so that a plot is one digit.
const MaxPlots = 9
