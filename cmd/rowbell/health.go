package main

import (
	"errors"
	"fmt"
	"net/http"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/doctor"
)

// healthCmd is rowbell health: it asks a running service whether the service is ready. The health check of a container
// uses this command, because the container image has no other program.
type healthCmd struct {
	URL    string `name:"url" help:"What to ask (default: /readyz on this machine, as the configuration has it)."`
	Config string `help:"Configuration of the service (default: ${default_config})." placeholder:"FILE"`
}

// Run prints the answer of the service, and returns an error if the service is not ready.
func (c *healthCmd) Run(w *world) error {
	address, client := c.URL, http.DefaultClient
	if address == "" {
		conf, err := config.Load(c.Config)
		if err != nil {
			return err
		}
		if address, client, err = doctor.ReadyAddress(conf); err != nil {
			return err
		}
	}
	answer, err := doctor.Ready(w.ctx, address, client)
	if errors.Is(err, doctor.ErrAddress) {
		return &usageError{fmt.Errorf("--url: %w", err), "rowbell health --help"}
	}
	fmt.Fprint(w.out, answer)
	return err
}
