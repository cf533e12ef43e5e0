package menu

import (
	"strings"
	"unicode/utf8"

	"rowbell/menu/text"
)

// MaxAnswerSegments is how many SMS segments a screen may have if it is sent as a text.
const MaxAnswerSegments = 2

// fits reports whether a phone can show the whole page: at most 160 octets on USSD, at most two segments by SMS.
func (c *scene) fits(page string) bool {
	if c.ch == SMS {
		return c.m.Encode(c.lang, page).Segments <= MaxAnswerSegments
	}
	return text.FitsUSSD(page)
}

// Encode chooses the SMS alphabet of a text: GSM 7-bit, with the national language shift tables that the operator
// allows for the language, or UCS-2.
func (m *Menu) Encode(lang, body string) text.Encoded { return m.encoders[lang].Encode(body) }

// stack joins the parts of a screen with line breaks and skips empty parts.
func stack(parts ...string) string {
	n := 0
	for _, p := range parts {
		n += len(p) + len("\n")
	}
	var b strings.Builder
	b.Grow(n)
	for _, p := range parts {
		if p == "" {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p)
	}
	return b.String()
}

// paginate lays out a screen on as few pages as possible: prose, then lines with one choice each, then keys, a line
// that names the keys back and home. If the last page has room only without the home key, the line names only the back
// key. Every page but the last ends with the key for the next page instead. A line of choices is never cut. Prose that
// is too long for a page is cut between words: after a sentence, unless that would leave a page half empty.
func (c *scene) paginate(prose, lines []string, keys string) []string {
	var rest []string
	for _, p := range prose {
		if p != "" {
			rest = append(rest, strings.Split(p, "\n")...)
		}
	}
	cuttable := len(rest) // the first so many lines of rest are prose, which may be cut
	rest = append(rest, lines...)
	turn := c.t("keys.more", nil)
	if keys != "" {
		turn = c.t("keys.more-back", nil)
	}
	back := c.t("keys.back", nil)
	var pages []string
	for {
		body := stack(rest...)
		if last := stack(body, keys); c.fits(last) {
			return append(pages, last)
		}
		if last := stack(body, back); keys != "" && c.fits(last) {
			return append(pages, last)
		}
		n := 0 // at least one line must be left for the last page
		for n < len(rest)-1 && c.fits(stack(stack(rest[:n+1]...), turn)) {
			n++
		}
		page := stack(rest[:n]...)
		rest, cuttable = rest[n:], cuttable-n
		if cuttable > 0 && (n == 0 || !c.fits(stack(rest[0], turn))) {
			if head, tail := c.cut(page, rest[0], turn); head != "" {
				page, rest[0] = stack(page, head), tail
			}
		}
		if page == "" { // one line too long for any page is shown as it is, and the proof reports it
			if len(rest) == 1 {
				return append(pages, stack(rest[0], keys))
			}
			page, rest, cuttable = rest[0], rest[1:], cuttable-1
		}
		pages = append(pages, stack(page, turn))
		if keys == "" { // a first screen has no keys, but its later pages need a key that leads back to the first page
			keys, turn = back, c.t("keys.more-back", nil)
		}
	}
}

// cut splits prose so that head fits on a page that begins with above and ends with below. cut cuts after the last
// sentence that fits or, if that would leave head too short, after the last word that fits. At least one word is left
// for tail.
func (c *scene) cut(above, prose, below string) (head, tail string) {
	words := strings.Fields(prose)
	n := 0
	for n < len(words)-1 && c.fits(stack(above, strings.Join(words[:n+1], " "), below)) {
		n++
	}
	for k := n; k > n/2; k-- {
		if endsSentence(words[k-1]) {
			n = k
			break
		}
	}
	return strings.Join(words[:n], " "), strings.Join(words[n:], " ")
}

func endsSentence(word string) bool {
	last, _ := utf8.DecodeLastRuneInString(word)
	return strings.ContainsRune(".?!:\u0964", last) // U+0964: danda, the full stop of Devanagari
}
