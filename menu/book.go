package menu

import (
	"errors"

	"rowbell/engine"
)

// Book is what a dialogue needs of one grower's records, in the transaction
// that is running. Plots are named by the number a grower types, 1 to MaxPlots.
type Book interface {
	Today() engine.Day // the grower's civil day
	Known() bool       // consent was given and records exist
	Language() string  // "" until chosen
	Stopped() bool     // the grower wants no texts

	Via(channel string) // on which channel the grower speaks; kept with what they decide
	// Consent was given to these words, as they were shown.
	Consent(language, words, channel string) error
	SetLanguage(language string) error
	Places() (names []string, own int, err error) // of all places, and which is the grower's
	SetPlace(name string) error
	Stop() error
	Start() error
	// StoredCounts counts what is kept of the grower beside number, language and place:
	// plots of all seasons, the passes on them, texts sent or waiting.
	StoredCounts() (plots, passes, texts int, err error)
	Erase() error

	// A number may have changed hands, and records may change their number.
	Silent() bool              // not heard of for so long that it is asked who this is
	Confirm() error            // it is the grower still
	Unlink() error             // it is somebody else: the number has no records any more
	MoveCode() (string, error) // six digits that bring the records to another phone, once, within two hours
	// TakeOver brings the records of a code here. A wrong code is counted: left
	// is how many more may be typed; 0 = none until the next day.
	TakeOver(code string) (ok bool, left int, err error)

	Plots() ([]int, error) // numbers of open plots, ascending
	Season(no int) (engine.Season, error)
	AddPlot(engine.Plot, engine.Tool) (no int, err error)
	ChangePlot(no int, p engine.Plot, t engine.Tool) error
	ClosePlot(no int) error
	LogPass(no int, p engine.Pass) error
	AmendPass(no int, p engine.Pass) error // replaces the latest pass
	UndoPass(no int) error                 // removes the latest pass
	See(no int, s engine.Sighting) error

	Household() (engine.Household, error) // hands, hours and money
	SetHousehold(engine.Household) error
	TellHerbicide(no int, price float64) error // what a treatment of this plot would cost; 0 = not told

	// Two ways of weeding side by side; a grower has one trial at a time.
	SplitPlot(no int, labelA, labelB string) (noB int, err error) // halves of a plot become plots
	StartTrial(noA, noB int, a, b engine.TrialWay) error
	Trial() (engine.TrialRecord, bool, error) // the one that runs
	SetBags(a, b float64) error
	EndTrial() error

	Weather() (engine.Weather, error) // of the grower's place
}

// MaxPlots is how many open plots one phone may have: one digit's worth.
const MaxPlots = 9

// ErrNoPlot is what a Book returns, wrapped or not, for a number without an
// open plot.
var ErrNoPlot = errors.New("no open plot with this number")
