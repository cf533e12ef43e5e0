// Command rowbell is a text-menu service for lowland rice growers. It sends growers a text when it is time to weed with
// the rotary weeder, and growers log when they have weeded.
//
// This package has the function main and one file for each command: the command's flags, a call into the package that
// does the work, and the printing. Configuration, start of the service, checks and planning are in the packages below
// this folder.
package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // for a container image without zone files: the program must know the growers' time zones

	"github.com/alecthomas/kong"
	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/plan"
	"rowbell/store"
)

func main() {
	zerolog.TimestampFunc = func() time.Time { return time.Now().UTC() }
	os.Exit(run(os.Args[1:], os.Getenv, os.Stdin, os.Stdout, os.Stderr))
}

// cli lists the commands. Each command is in the file of the same name.
type cli struct {
	Version   kong.VersionFlag `help:"Print the version of this program."`
	TestClock time.Time        `hidden:"" help:"For tests: the instant at which the command runs."`

	Serve    serveCmd    `cmd:"" help:"Run the service."`
	Practice practiceCmd `cmd:"" help:"Try everything with an invented valley and a clock that you move."`
	Plan     planCmd     `cmd:"" help:"Plan one plot from flags: a table, JSON or a picture of the season."`
	Roster   rosterCmd   `cmd:"" help:"Plan who has which shared tool on which day, from a CSV file."`
	Import   importCmd   `cmd:"" help:"Import from CSV into the records: weather of a place, growers and plots."`
	Export   exportCmd   `cmd:"" help:"Print growers, plots, weedings or texts as CSV."`
	Morning  morningCmd  `cmd:"" help:"List whom to call or visit and why, as the first page of the desk does."`
	Place    placeCmd    `cmd:"" help:"Show each place in the records: weather, prices, figures, what it has learned."`
	Move     moveCmd     `cmd:"" help:"Move a grower's records to another number; list growers without a number."`
	Person   personCmd   `cmd:"" help:"Show, export or erase everything stored about one person."`
	Weeded   weededCmd   `cmd:"" help:"Log a weeding on behalf of a grower."`
	Staff    staffCmd    `cmd:"" help:"List who uses the desk, the pages for staff; add and end accounts."`
	Backup   backupCmd   `cmd:"" help:"Copy the records to a file, also while the service runs."`
	Copy     copyCmd     `cmd:"" help:"Move the records to another database: from a file to a server, or back."`
	Restore  restoreCmd  `cmd:"" help:"Replace the records by a backup; the service must be stopped."`
	Reload   reloadCmd   `cmd:"" help:"Have the running service read its configuration anew."`
	Compact  compactCmd  `cmd:"" help:"Make the database file as small as its records, also while the service runs."`
	Sending  sendingCmd  `cmd:"" help:"Show what is sent, waits and was spent; hold all texts, or release them."`
	Texts    textsCmd    `cmd:"" help:"Check every text and screen in every language and show how long they are."`
	Sources  sourcesCmd  `cmd:"" help:"List the constants of the engine with unit and source."`
	Manual   manualCmd   `cmd:"" help:"List the pages and files of the manual, or print one."`
	Config   configCmd   `cmd:"" help:"Print a rowbell.toml with every setting, commented."`
	Doctor   doctorCmd   `cmd:"" help:"Report what is wrong with this set-up and how to fix it; changes nothing."`
	Health   healthCmd   `cmd:"" help:"Ask a running service whether it is ready."`
}

// world is what a command may use in addition to its flags.
type world struct {
	ctx       context.Context
	now       func() time.Time
	testClock time.Time // the time of --test-clock; if that flag is given, now() also returns it; else zero
	env       func(string) string
	in        io.Reader
	out, err  io.Writer
	log       zerolog.Logger
}

// run runs a command line. The exit code is 0 for success, 2 for a mistake in the command line, 1 for other failures.
func run(args []string, env func(string) string, in io.Reader, out, errs io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	// After the first signal the handler is removed, so a second signal ends the program at once.
	context.AfterFunc(ctx, stop)

	log := zerolog.New(errs).With().Timestamp().Logger()

	var c cli
	exit := -1
	parser, err := kong.New(&c, kong.Name("rowbell"),
		kong.Description("Tells rice growers by text when to weed between their rows."),
		kong.Vars{"version": versionLine(), "default_listen": config.DefaultListen,
			"default_db": config.DefaultDB, "default_config": config.DefaultFile},
		helpTexts(plan.Vars()), kong.Writers(out, errs), kong.Exit(func(code int) { exit = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		panic(err) // only if a struct tag of a command has a mistake
	}
	if len(args) > 0 && args[0] == "help" { // "rowbell help serve" means "rowbell serve --help"
		args = append(slices.Clone(args[1:]), "--help")
	}
	command, err := parser.Parse(args)
	if exit >= 0 { // kong has already printed the help or the version
		return exit
	}
	if err != nil {
		fmt.Fprintf(errs, "rowbell: %v\nTry: rowbell --help\n", err)
		return 2
	}
	w := &world{ctx: ctx, now: time.Now, testClock: c.TestClock, env: env, in: in, out: out, err: errs, log: log}
	if !c.TestClock.IsZero() {
		w.now = func() time.Time { return c.TestClock }
	}
	if err := command.Run(w); err != nil {
		fmt.Fprintf(errs, "rowbell: %s\n", withAdvice(err))
		var usage *usageError
		if errors.As(err, &usage) {
			fmt.Fprintf(errs, "Try: %s\n", usage.try)
			return 2
		}
		return 1
	}
	return 0
}

// withAdvice returns an error of a command with what to do about it, if it is of the records and does not say that.
func withAdvice(err error) string {
	var refused *store.OpenError
	if advice := store.Advice(err); advice != "" && !errors.As(err, &refused) {
		return fmt.Sprintf("%v; %s", err, advice)
	}
	return err.Error()
}

// helpTexts gives each flag whose help is "${name}" the text of that name. If the texts were kong.Vars, kong would
// expand all of them for each flag of each command, which took a third of the time of a short command.
func helpTexts(texts map[string]string) kong.Option {
	return kong.PostBuild(func(k *kong.Kong) error {
		return kong.Visit(k.Model, func(node kong.Visitable, next kong.Next) error {
			if v, is := node.(*kong.Value); is {
				name := strings.TrimSuffix(strings.TrimPrefix(v.Help, "${"), "}")
				v.Help = cmp.Or(texts[name], v.Help)
			}
			return next(nil)
		})
	})
}

// usageError is a mistake in the command line, with a command to try instead.
type usageError struct {
	error
	try string
}

func (e *usageError) Unwrap() error { return e.error }

// The linker sets version in a release: -ldflags "-X main.version=1.2.3".
var version string

// buildVersion returns version or, if version is empty, the module version in the binary.
func buildVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "unknown"
}

func versionLine() string {
	return fmt.Sprintf("rowbell %s, %s, SQLite %s", buildVersion(), runtime.Version(), store.SQLite())
}
