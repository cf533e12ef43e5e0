package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"rowbell/menu/text"
)

// printParts shows how s goes out by SMS where those national tables are
// allowed: its encoding, and each part with its length, header included, its
// text, header and octets. The reference of the parts is 0, for show; a sender
// takes another for each text.
func printParts(w io.Writer, s string, allowed []text.Shift) error {
	if s == "" {
		return errors.New("the text is empty: there is nothing to send")
	}
	e := text.Choose(s, allowed)
	parts, err := text.Split(s, e, text.Ref8(0))
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
