package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"
)

// healthCmd is rowbell health: for a container that has nothing else to ask
// with.
type healthCmd struct {
	URL string `name:"url" default:"http://127.0.0.1:8080/readyz" help:"What to ask."`
}

// Run fails where the service does not say that it is ready.
func (c *healthCmd) Run(w *world) error {
	ctx, cancel := context.WithTimeout(w.ctx, 5*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.URL, nil)
	if err != nil {
		return err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return errors.New("the service does not answer")
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("the service answers %s", resp.Status)
	}
	return nil
}
