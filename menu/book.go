package menu

import "rowbell/engine"

// Book is what the menu needs of one grower's records, inside the transaction that the caller has opened. Each group of
// screens uses only the interface of its subject. A plot is identified by the number that the grower types, from 1 to
// MaxPlots. Methods return engine.ErrNoPlot for a number that no open plot has.
type Book interface {
	GrowerRecords
	ConsentRecords
	NumberRecords
	PlaceRecords
	PlotRecords
	PassRecords
	HouseholdRecords
	TrialRecords
	CircleRecords
}

// GrowerRecords say who the grower is and which channel the grower uses.
type GrowerRecords interface {
	Today() engine.Day // today's date where the grower lives
	// SaidOn is the day on which the grower wrote the entry: before today if a network held a text over midnight. It is
	// what "today" means in the entry. What is advised is as of Today.
	SaidOn() engine.Day
	Known() bool      // the grower has given consent, so records exist
	Language() string // "" until the grower has chosen a language
	SetLanguage(language string) error
	Stopped() bool      // the grower has asked to get no more texts
	Via(channel string) // notes the channel in use now, which is stored with each consent
}

// ConsentRecords store what the grower agrees to, and end that agreement.
type ConsentRecords interface {
	// Consent stores that the grower agreed to these words, exactly as the screen showed them.
	Consent(language, words, channel string) error
	Stop() error
	Start() error
	// StoredCounts counts what is stored about the grower besides the phone number, the language and the place: plots
	// of all seasons, the passes on these plots, and texts that were sent or are waiting to be sent.
	StoredCounts() (plots, passes, texts int, err error)
	Erase() error
}

// NumberRecords connect a phone number with records. The connection can change, because a number may get a new holder
// and a grower may get a new number.
type NumberRecords interface {
	Silent() bool              // the phone was silent for so long that the menu must ask who uses the phone
	Confirm() error            // stores that the phone still belongs to the grower
	Unlink() error             // separates the records from the number, because another person has the number now
	MoveCode() (string, error) // six digits that move the records to another phone, once, within two hours
	// TakeOver moves the records that belong to a code to this number. A wrong code is counted: left is how many more
	// codes may be tried today, and 0 means none until the next day.
	TakeOver(code string) (ok bool, left int, err error)
}

// PlaceRecords hold the growing areas that the operator has set up, and which one is the grower's.
type PlaceRecords interface {
	Places() (names []string, own int, err error) // own is the index of the grower's place in names
	SetPlace(name string) error
	Weather() (engine.Weather, error) // the weather of the grower's place
}

// PlotRecords are the grower's open plots.
type PlotRecords interface {
	Plots() ([]int, error) // the numbers of the plots, ascending
	Season(no int) (engine.Season, error)
	AddPlot(engine.Plot, engine.Tool) (no int, err error)
	ChangePlot(no int, p engine.Plot, t engine.Tool) error
	// Replant stores that a plot was planted again as p says. What was logged before p.Planted leaves the season.
	Replant(no int, p engine.Plot) error
	ClosePlot(no int) error
}

// PassRecords store weedings (passes) and what growers see in the field (sightings).
type PassRecords interface {
	LogPass(no int, p engine.Pass) error
	AmendPass(no int, p engine.Pass) error // replaces the latest pass
	UndoPass(no int) error                 // removes the latest pass
	See(no int, s engine.Sighting) error

	// These methods put right what was logged before. was must be a pass or sighting of the season.
	CorrectPass(no int, was, now engine.Pass) error
	RemovePass(no int, was engine.Pass) error
	CorrectSighting(no int, was, now engine.Sighting) error
	RemoveSighting(no int, was engine.Sighting) error
}

// HouseholdRecords store how many people of a household weed, how many hours a day they weed, the prices that the
// household has given, and what goes wrong with its tool.
type HouseholdRecords interface {
	Household() (engine.Household, error)
	SetHousehold(engine.Household) error
	TellHerbicide(no int, price float64) error // price of treating the plot once; 0 deletes the price
	TellTrouble(t engine.Trouble) error        // what staff should know; only the last one counts
}

// TrialRecords store a trial: a comparison of two ways of weeding on two plots. A grower has at most one trial at a
// time.
type TrialRecords interface {
	SplitPlot(no int, labelA, labelB string) (noB int, err error) // makes a plot of each half of the plot
	StartTrial(noA, noB int, a, b engine.TrialWay) error
	Trial() (engine.TrialRecord, bool, error) // the running trial; false if no trial is running
	SetBags(a, b float64) error
	EndTrial() error
}

// MaxPlots is how many open plots one phone may have. It is 9, so that one digit is enough to choose a plot.
const MaxPlots = 9
