// Command rowbell is a text-menu service for lowland rice growers: it tells
// them when to weed with the rotary weeder, and hears from them that they did.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"syscall"
	"time"
	_ "time/tzdata" // an image without zone files must know the growers' mornings

	"github.com/alecthomas/kong"
	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/plan"
)

func main() { os.Exit(run(os.Args[1:], os.Getenv, os.Stdin, os.Stdout, os.Stderr)) }

// cli is the table of commands, one file each.
type cli struct {
	Version kong.VersionFlag `help:"Print the version of this program."`

	Serve    serveCmd    `cmd:"" help:"Run the service."`
	Practice practiceCmd `cmd:"" help:"Try everything with an invented valley and a calendar moved by hand; nothing is sent."`
	Plan     planCmd     `cmd:"" help:"Plan one plot from flags: a table, JSON or a picture of the season."`
	Import   importCmd   `cmd:"" help:"Bring what was measured into the records: daily weather of a place."`
	Rank     rankCmd     `cmd:"" help:"List the open plots of a place, where there is most to lose first."`
	Place    placeCmd    `cmd:"" help:"Show what the records hold of each place: weather, prices, figures, what it has learned."`
	Move     moveCmd     `cmd:"" help:"Give a grower's records to another phone number; list those whose number was another person's."`
	Person   personCmd   `cmd:"" help:"Show, write out or erase all that is kept of one person."`
	Backup   backupCmd   `cmd:"" help:"Copy the records to a file, also while the service runs."`
	Restore  restoreCmd  `cmd:"" help:"Put a backup in the place of the records; the service must be stopped."`
	Sending  sendingCmd  `cmd:"" help:"Show what goes out, what waits and what was spent; hold all texts, or let them out again."`
	Texts    textsCmd    `cmd:"" help:"Check every text and screen in every language and show how long they are."`
	Sources  sourcesCmd  `cmd:"" help:"List the constants of the engine with unit and source."`
	Doctor   doctorCmd   `cmd:"" help:"Look for what is wrong with this set-up, and say what to do; nothing is changed or sent."`
	Health   healthCmd   `cmd:"" help:"Ask a running service whether it is well."`
}

// world is what a command may touch besides its flags.
type world struct {
	ctx      context.Context
	now      func() time.Time
	env      func(string) string
	in       io.Reader
	out, err io.Writer
	log      zerolog.Logger
}

// run is the whole program: arguments and streams in, exit code out. 2 is a
// mistake in the command line, 1 any other failure.
func run(args []string, env func(string) string, in io.Reader, out, errs io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	// After the first signal the next one ends the program at once.
	context.AfterFunc(ctx, stop)

	log := zerolog.New(errs).With().Timestamp().Logger()
	zerolog.DefaultContextLogger = &log
	zerolog.TimestampFunc = func() time.Time { return time.Now().UTC() }

	var c cli
	exit := -1
	parser, err := kong.New(&c, kong.Name("rowbell"),
		kong.Description("Tells rice growers by text when to weed between their rows."),
		kong.Vars{"version": versionLine(), "default_listen": config.DefaultListen, "default_db": config.DefaultDB, "default_config": config.DefaultFile}, kong.Vars(plan.Vars()), kong.Writers(out, errs), kong.Exit(func(code int) { exit = code }), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		panic(err) // the table above is wrong
	}
	if len(args) > 0 && args[0] == "help" { // rowbell help serve
		args = append(slices.Clone(args[1:]), "--help")
	}
	command, err := parser.Parse(args)
	if exit >= 0 { // --help has been answered
		return exit
	}
	if err != nil {
		fmt.Fprintf(errs, "rowbell: %v\nTry: rowbell --help\n", err)
		return 2
	}
	w := &world{ctx: ctx, now: time.Now, env: env, in: in, out: out, err: errs, log: log}
	if err := command.Run(w); err != nil {
		fmt.Fprintf(errs, "rowbell: %v\n", err)
		var usage *usageError
		if errors.As(err, &usage) {
			fmt.Fprintf(errs, "Try: %s\n", usage.try)
			return 2
		}
		return 1
	}
	return 0
}

// usageError is a mistake in the command line, with what to try instead.
type usageError struct {
	err error
	try string
}

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }
