// Command rowbell-load loads a rowbell on this machine with invented growers and looks at every answer. It starts the
// processes itself, on new records, and disturbs them if it is asked to.
//
//	rowbell-load calls --for 10m --rate 200 --kill 5s
//	rowbell-load season --growers 20000
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// cli lists the commands. Each is in the file of the same name.
type cli struct {
	Calls  callsCmd  `cmd:"" help:"Have growers dial and write texts, and look at each answer."`
	Season seasonCmd `cmd:"" help:"Play a whole season of many growers with a clock that is moved."`
}

// world is what a command may use besides its flags.
type world struct {
	ctx      context.Context
	out, err io.Writer
}

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// run runs a command line. The exit code is 0 if all that was promised held, 1 if not, 2 for a mistake in the command
// line.
func run(args []string, out, errs io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	var c cli
	exit := -1
	parser, err := kong.New(&c, kong.Name("rowbell-load"), kong.Description("Loads a rowbell on this machine with "+
		"invented growers, and looks at every answer."), kong.Writers(out, errs),
		kong.Exit(func(code int) { exit = code }), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		panic(err) // only if a struct tag of a command has a mistake
	}
	command, err := parser.Parse(args)
	if exit >= 0 { // kong has printed the help
		return exit
	}
	if err != nil {
		fmt.Fprintf(errs, "rowbell-load: %v\nTry: rowbell-load --help\n", err)
		return 2
	}
	if err := command.Run(&world{ctx, out, errs}); err != nil {
		fmt.Fprintf(errs, "rowbell-load: %v\n", err)
		return 1
	}
	return 0
}
