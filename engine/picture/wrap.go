package picture

import (
	"strings"
	"unicode"
)

// wrap breaks a text into lines of at most this width: between words, or inside of a word that is wider than a line. If
// most lines are not enough, the last one ends with an ellipsis (…), and whole is false. A text without a letter is no
// line.
func wrap(text string, size px, bold bool, width px, most int) (lines []string, whole bool) {
	fits := func(s string) bool { return textWidth(s, size, bold) <= width }
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && fits(line+" "+word) {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for line = word; !fits(line); {
			head := headOf(line, fits)
			lines, line = append(lines, head), line[len(head):]
			if line == "" {
				break
			}
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	if len(lines) <= most {
		return lines, true
	}
	last := lines[most-1]
	for last != "" && !fits(last+"…") {
		last = last[:len(last)-len(lastCluster(last))]
	}
	lines[most-1] = last + "…"
	return lines[:most], false
}

// headOf returns the longest beginning of a word that fits, but at least one letter with its signs.
func headOf(word string, fits func(string) bool) string {
	head := ""
	for rest := word; rest != ""; {
		next := firstCluster(rest)
		if head != "" && !fits(head+next) {
			break
		}
		head, rest = head+next, rest[len(next):]
	}
	return head
}

// firstCluster returns the first letter of a text with the signs that belong to it: vowel signs and accents, and in the
// scripts of India the consonants that a virama joins to it. A text must not be cut within a cluster, because the rest
// of it would read as another letter.
func firstCluster(text string) string {
	joined := false
	for i, r := range text {
		if i > 0 && !joined && !belongs(r) {
			return text[:i]
		}
		joined = r == '\u200d' || isVirama(r) // U+200D joins letters
	}
	return text
}

func lastCluster(text string) string {
	for {
		first := firstCluster(text)
		if len(first) == len(text) {
			return text
		}
		text = text[len(first):]
	}
}

// belongs reports whether a sign belongs to the letter before it.
func belongs(r rune) bool { return unicode.Is(unicode.M, r) || isJoiner(r) }

// isJoiner reports whether a sign joins or parts the letters around it and is not seen itself.
func isJoiner(r rune) bool { return r == '\u200c' || r == '\u200d' }

// isVirama reports whether a sign joins the consonants around it: the viramas of the scripts from Devanagari to
// Malayalam, which are at the same place of each of their blocks (The Unicode Standard, chapter 12).
func isVirama(r rune) bool { return r >= 0x900 && r < 0xd80 && r&0x7f == 0x4d }
