package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"

	"rowbell/gateway/profile"
)

// gatewaysConfig are the networks by name, each as profile.Spec describes it.
// Without any there is one, called local, that speaks our own format.
type gatewaysConfig map[string]profile.Spec

// validate names the first setting that cannot be used, whatever the secrets
// are.
func (c *config) validateGateways() error {
	if len(c.Gateways) == 0 {
		return nil
	}
	if c.Push != nil {
		return errors.New("push: with [gateways] texts go out by a push table of theirs, such as [gateways.NAME.push]")
	}
	// It stands for every secret until the service starts.
	const anySecret = "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	_, err := c.gateways(func(string) (string, error) { return anySecret, nil })
	return err
}

// gateways builds the networks that are described, in order of their names.
func (c *config) gateways(secret profile.Lookup) ([]profile.Profile, error) {
	var list []profile.Profile
	for _, name := range slices.Sorted(maps.Keys(c.Gateways)) {
		s := c.Gateways[name]
		s.CountryCode, s.Sender = cmp.Or(s.CountryCode, c.CountryCode), cmp.Or(s.Sender, c.Sender)
		p, err := s.Build(name, secret)
		if err != nil {
			return nil, err
		}
		list = append(list, p)
	}
	return list, nil
}

// networks are those that the service listens to and sends by. Secrets come
// from the environment.
func (c *config) networks(env func(string) string) ([]profile.Profile, error) {
	if len(c.Gateways) > 0 {
		return c.gateways(secrets(env))
	}
	push, err := optional(env, envPush)
	if err != nil {
		return nil, err
	}
	network := c.network(push)
	if err := network.Validate(); err != nil { // the file is fine by itself
		return nil, fmt.Errorf("%s: %w", envPush, err)
	}
	token, err := optional(env, envToken)
	if err != nil {
		return nil, err
	}
	if token != "" {
		network.Token = profile.HashToken(token)
	}
	return []profile.Profile{network}, nil
}

// optional is a secret that need not be there; "" where it is not.
func optional(env func(string) string, name string) (string, error) {
	if strings.TrimSpace(env(name)) == "" && env(name+"_FILE") == "" {
		return "", nil
	}
	return secrets(env)(name)
}

// secrets looks a secret up in the environment: in the variable itself, or in
// the file that the variable with _FILE behind its name points to.
func secrets(env func(string) string) profile.Lookup {
	return func(name string) (string, error) {
		value, file := strings.TrimSpace(env(name)), env(name+"_FILE")
		switch {
		case value != "" && file != "":
			return "", fmt.Errorf("%s and %s_FILE are both set", name, name)
		case value != "":
			return value, nil
		case file == "":
			return "", fmt.Errorf("%s is not set: set it to the secret, or %s_FILE to the path of a file that holds it", name, name)
		}
		b, err := os.ReadFile(file)
		var at *fs.PathError
		if errors.As(err, &at) { // without the path: it may be the secret, in the wrong variable
			return "", fmt.Errorf("%s_FILE: the file it names cannot be read: %w", name, at.Err)
		}
		if err != nil {
			return "", fmt.Errorf("%s_FILE: %w", name, err)
		}
		return strings.TrimSpace(string(b)), nil
	}
}
