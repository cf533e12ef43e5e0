package main

import (
	"errors"
	"fmt"
	"net/http"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/doctor"
)

// healthCmd is rowbell health, which asks a running service whether it is ready. It is the health check of the
// container image, which has no other program.
type healthCmd struct {
	URL    string `name:"url" help:"What to ask (default: /readyz on this machine, as the configuration has it)."`
	Config string `help:"Configuration of the service (default: ${default_config})." placeholder:"FILE"`
}

// Run prints the answer of the service. A service that is not ready is an error.
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
