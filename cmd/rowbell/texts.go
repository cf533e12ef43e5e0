package main

import (
	"errors"
	"fmt"
	"strings"

	"rowbell/menu"
	"rowbell/menu/text"
)

// textsCmd is rowbell texts.
type textsCmd struct {
	All    bool   `help:"Show every screen and text whole, with its longest values."`
	Config string `help:"Configuration, for its dial code and area units (default ${default_config}, if there is one)." placeholder:"FILE"`
}

// Run walks the whole menu and prints how long each screen and text gets.
func (c *textsCmd) Run(w *world) error {
	cat, err := text.Default()
	if err != nil {
		return err
	}
	conf, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	o := conf.menuOptions()
	if len(o.Units) == 0 {
		// The screens of local units are checked even where there are none.
		o.Units = []menu.AreaUnit{{Name: "WWWWWWWWWW", M2: 1}}
	}
	m, err := menu.New(cat, o)
	if err != nil {
		return err
	}
	p, err := m.Prove()
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%d screens, %d ways between them walked, %d languages: %s\n", p.Screens, p.Edges, len(cat.Languages()), strings.Join(cat.Languages(), ", "))
	fmt.Fprintf(w.out, "\nUSSD screens with their longest values: octets of %d, characters\n", text.USSDMaxOctets)
	for _, page := range p.Longest {
		fmt.Fprintf(w.out, "%s  %-20s %4d %4d\n", page.Lang, page.Screen, page.Octets, len([]rune(page.Text)))
		c.show(w, page.Text)
	}
	fmt.Fprintf(w.out, "\nTexts by SMS with their longest values: segments, characters\n")
	for _, t := range p.Texts {
		fmt.Fprintf(w.out, "%s  %-24s %d %4d  %s\n", t.Lang, t.Key, t.Segments, len([]rune(t.Text)), t.Alphabet)
		c.show(w, t.Text)
	}
	if len(p.Problems) == 0 {
		fmt.Fprintf(w.out, "\nAll of it fits, can be reached and can be left.\n")
		return nil
	}
	fmt.Fprintln(w.out)
	for _, problem := range p.Problems {
		fmt.Fprintln(w.out, problem)
	}
	return errors.New("the texts above need mending")
}

func (c *textsCmd) show(w *world, body string) {
	if !c.All {
		return
	}
	for l := range strings.Lines(body) {
		fmt.Fprintf(w.out, "      | %s\n", strings.TrimRight(l, "\n"))
	}
	fmt.Fprintln(w.out)
}
