package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/plan"
	"rowbell/menu"
	"rowbell/menu/booklet"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// textsCmd is rowbell texts: it checks the texts and screens of every language, and writes the booklet for trainers.
type textsCmd struct {
	Texts    string   `help:"Folder of language files, laid over the built-in texts." placeholder:"DIR"`
	Language []string `help:"Only this language, with every mistake. May be given more than once." placeholder:"TAG"`
	All      bool     `help:"Show every screen and text whole, with its longest values." xor:"show"`
	Prove    bool     `help:"Show only the counts of the proof and the longest page of each language." xor:"show"`
	Split    *string  `help:"Show the parts in which a text goes out by SMS." placeholder:"TEXT" xor:"show"`
	Booklet  string   `help:"Write the trainers' booklet as HTML for A4." placeholder:"FILE" xor:"show"`
	Outline  bool     `help:"Print the booklet as plain text." xor:"show"`
	Config   string   `help:"Configuration for texts, dial code and area units." placeholder:"FILE"`
}

// Run checks the language files, walks through the whole menu, and prints the lengths of screens and texts, then the
// mistakes. A mistake does not prevent the check of other texts.
func (c *textsCmd) Run(w *world) error {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	if c.Texts != "" {
		if err := config.CheckFolder(c.Texts); err != nil {
			return fmt.Errorf("--texts: %w", err)
		}
		conf.Texts.Folder = c.Texts
	}
	draft, wrong, err := conf.Texts.Inspect()
	if err != nil {
		return err
	}
	langs, err := c.languages(&conf.Texts, draft, wrong)
	if err != nil {
		return err
	}
	if c.Split != nil {
		return printParts(w.out, *c.Split, c.tables(conf.Texts.Tables()))
	}
	if c.Booklet != "" || c.Outline {
		if len(wrong) > 0 {
			return fmt.Errorf("the booklet needs sound texts: %w", wrong)
		}
		return c.makeBooklet(w.out, &conf, draft, langs)
	}
	mistakes := mistakesOf(wrong, langs)
	printLanguages(w.out, draft, langs, mistakes, conf.Texts.Tables())
	langs = slices.DeleteFunc(langs, func(lang string) bool { return !slices.Contains(draft.Languages(), lang) })
	if len(langs) > 0 {
		m, err := c.menu(&conf, draft, langs)
		if err != nil {
			return err
		}
		p, err := c.prove(w, m, langs)
		if err != nil {
			return err
		}
		mistakes = append(mistakes, mistakeGroup{head: "the menu", lines: p.Problems})
		printMistakes(w.out, []mistakeGroup{{head: "no mistakes, but worth knowing", lines: p.Notes}}, false)
	}
	if n := printMistakes(w.out, mistakes, len(c.Language) == 0); n > 0 {
		return fmt.Errorf("%s in the texts", plan.Count(n, "mistake", "mistakes"))
	}
	fmt.Fprintf(w.out, "\nAll of it fits, can be reached and can be left.\n")
	return nil
}

// tables returns the shift tables that the languages of --language may use; without that flag, those of all languages.
func (c *textsCmd) tables(all map[string][]text.Shift) (allowed []text.Shift) {
	for lang, tables := range all {
		if len(c.Language) == 0 || slices.Contains(c.Language, lang) {
			allowed = append(allowed, tables...)
		}
	}
	slices.Sort(allowed)
	return slices.Compact(allowed)
}

// languages returns the languages of --language. Without that flag, it returns the languages that growers can choose,
// then those with a mistake, which may be why growers cannot choose them.
func (c *textsCmd) languages(conf *config.Texts, draft *text.Catalogue, wrong text.Problems) ([]string, error) {
	known := draft.Languages()
	var broken []string
	for _, p := range wrong {
		broken = with(broken, p.Lang)
	}
	known = with(known, broken...)
	for _, lang := range c.Language {
		if !slices.Contains(known, lang) {
			return nil, config.NoLanguage("--language", lang, known)
		}
	}
	if len(c.Language) > 0 {
		return c.Language, nil
	}
	langs, err := conf.Offered(known)
	if err != nil {
		return nil, err
	}
	return with(langs, broken...), nil
}

// with appends the elements of more that list does not have.
func with(list []string, more ...string) []string {
	for _, s := range more {
		if !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}

func (c *textsCmd) menu(conf *config.Config, draft *text.Catalogue, langs []string) (*menu.Menu, error) {
	all := slices.Clone(conf.Texts.Languages)
	if len(all) == 0 {
		all = draft.Languages()
	}
	all = slices.DeleteFunc(all, func(lang string) bool { return !slices.Contains(draft.Languages(), lang) })
	cat, err := draft.Only(with(all, langs...)...)
	if err != nil {
		return nil, err
	}
	o := conf.Menu()
	for place, spoken := range o.PlaceLanguages { // a language with a mistake in its file may be left out of the draft
		o.PlaceLanguages[place] = slices.DeleteFunc(slices.Clone(spoken), func(lang string) bool {
			return !slices.Contains(cat.Languages(), lang)
		})
	}
	if len(o.Units) == 0 && c.Booklet == "" && !c.Outline {
		// Without a configured local unit, an invented unit with the longest name checks the screens with local units.
		o.Units = []menu.AreaUnit{{Name: "WWWWWWWWWW", M2: 1}}
	}
	return menu.New(cat, o)
}

// prove walks through the whole menu in the languages langs. It prints counts of what was checked.
func (c *textsCmd) prove(w *world, m *menu.Menu, langs []string) (proof.Proof, error) {
	shown, out := w.progress("walking the menu"), w.out
	p, err := proof.Prove(m, proof.Options{Languages: langs, Progress: shown.step})
	shown.stop()
	if err != nil {
		return p, err
	}
	edges, pages := 0, 0
	for _, walk := range p.Walks {
		edges, pages = edges+walk.Ways, pages+walk.Pages
	}
	fmt.Fprintf(out, "\n%d screens, %d ways between them walked, %d pages shown, %d texts by SMS; languages: %s\n",
		p.Screens, edges, pages, len(p.Texts), strings.Join(langs, ", "))
	c.walks(out, p)
	if !c.Prove {
		c.lengths(out, p)
	}
	return p, nil
}

// walks prints, for each language and channel (USSD or SMS), how many ways (a screen, an entry and the next screen) and
// how many pages the proof has checked, and the longest page.
func (c *textsCmd) walks(out io.Writer, p proof.Proof) {
	fmt.Fprintf(out, "\nby language and channel: ways, pages, most pages of a screen, "+
		"exchanges to a saved plot, to one that may be weeded already (at first contact), longest page\n")
	for _, w := range p.Walks {
		fmt.Fprintf(out, "%-3s %-4s %6d %6d %2d %2d %2d (%2d)  %d octets, %d characters: %s\n", w.Lang, w.Channel,
			w.Ways, w.Pages, w.MostPages, w.KnownExchanges, w.LateExchanges, w.NewExchanges,
			w.Longest.Octets, len([]rune(w.Longest.Text)), w.Longest.Screen)
	}
}

// lengths prints the length of every screen and text with the longest values.
func (c *textsCmd) lengths(out io.Writer, p proof.Proof) {
	fmt.Fprintf(out, "\nUSSD screens with their longest values: octets of %d, characters\n", text.USSDMaxOctets)
	for _, page := range p.Longest {
		fmt.Fprintf(out, "%s  %-20s %4d %4d\n", page.Lang, page.Screen, page.Octets, len([]rune(page.Text)))
		c.show(out, page.Text)
	}
	fmt.Fprintf(out, "\nTexts by SMS with their longest values: segments, characters\n")
	for _, t := range p.Texts {
		long := ""
		if t.Segments > 1 {
			long = "  over one segment"
		}
		fmt.Fprintf(out, "%s  %-24s %d %4d  %s%s\n", t.Lang, t.Key, t.Segments, len([]rune(t.Text)),
			t.Encoding.Alphabet, long)
		c.show(out, t.Text)
	}
}

// show prints the whole text if --all is given.
func (c *textsCmd) show(out io.Writer, body string) {
	if !c.All {
		return
	}
	for l := range strings.Lines(body) {
		fmt.Fprintf(out, "      | %s\n", strings.TrimRight(l, "\n"))
	}
	fmt.Fprintln(out)
}

// makeBooklet writes the booklet in the languages of --language or, without that flag, in the first language.
func (c *textsCmd) makeBooklet(out io.Writer, conf *config.Config, draft *text.Catalogue, langs []string) error {
	if len(c.Language) == 0 {
		langs = langs[:1]
	}
	m, err := c.menu(conf, draft, langs)
	if err != nil {
		return err
	}
	b, err := booklet.Make(m, langs...)
	if err != nil {
		return err
	}
	if c.Outline {
		return b.Outline(out)
	}
	var page bytes.Buffer
	if err := b.HTML(&page); err != nil {
		return err
	}
	if err := os.WriteFile(c.Booklet, page.Bytes(), 0o644); err != nil {
		return err
	}
	last := b.Chapters[len(b.Chapters)-1]
	_, err = fmt.Fprintf(out, "%s: %d screens in %d chapters\n", c.Booklet, last.To(), len(b.Chapters))
	return err
}

// printParts shows how the text s is sent by SMS with these shift tables: the encoding and, for each part, its length
// with the header, its text, its header and its octets. The reference number in the header is 0 here; real texts have
// different numbers.
func printParts(w io.Writer, s string, allowed []text.Shift) error {
	if s == "" {
		return errors.New("the text is empty: there is nothing to send")
	}
	encoded := text.NewEncoder(allowed).Encode(s)
	e := encoded.Encoding
	parts, err := encoded.Split(text.Ref8(0))
	if err != nil {
		return err
	}
	shown, err := text.Join(parts...)
	if err != nil {
		return err
	}
	if shown != s {
		return fmt.Errorf("the text is not UTF-8: a phone would show %q", shown)
	}
	unit := "septets of 160"
	if e.Alphabet == text.UCS2 {
		unit = "octets of 140"
	}
	fmt.Fprintf(w, "%s, %d SMS\n", e, len(parts))
	for i, p := range parts {
		fmt.Fprintf(w, "\npart %d: %d %s, %d characters\n", i+1, p.Length, unit, len([]rune(p.Text)))
		for l := range strings.SplitSeq(p.Text, "\n") {
			fmt.Fprintf(w, "      | %s\n", l)
		}
		if len(p.Header) > 0 {
			fmt.Fprintf(w, "header  % X\n", p.Header)
		}
		for at := 0; at < len(p.Data); at += 20 {
			label := "octets"
			if at > 0 {
				label = ""
			}
			fmt.Fprintf(w, "%-6s  % X\n", label, p.Data[at:min(at+20, len(p.Data))])
		}
	}
	return nil
}
