package text

import (
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Said returns the words and phrases that growers write in place of a digit: the table [said] of all languages, also of
// those that Only removed. The key is the name of the list, which is a sense of package answer. Each phrase is there as
// it stands in the file, and as the rules of [to-gsm7] write it. The caller must not change the result.
func (c *Catalogue) Said() map[string][]string { return c.said }

// saidTable compiles the table [said], which is a list of phrases, with commas between them, for each sense.
func (s *compiler) saidTable() {
	if _, ok := s.doc["said"]; !ok {
		return
	}
	for sense, v := range s.table("said") {
		key := "said." + sense
		list, ok := v.(string)
		if !ok {
			s.fail(Faulty, key, "is %s, not phrases with commas between them: put it in quotes", kindOf(v))
			continue
		}
		if list = norm.NFC.String(list); !s.checkVisible(key, list) {
			continue
		}
		for p := range strings.SplitSeq(list, ",") {
			if p = strings.Join(strings.Fields(p), " "); p == "" {
				continue
			}
			s.lang.said[sense] = append(s.lang.said[sense], p)
			if written := s.lang.rules.write(p); written != p {
				s.lang.said[sense] = append(s.lang.said[sense], written)
			}
		}
		if len(s.lang.said[sense]) == 0 {
			s.fail(Faulty, key, "is empty")
		}
	}
}

// compareSaid reports lists that only this language or only the source language has.
func (s *compiler) compareSaid() {
	from := s.original.lang.said
	table, _ := s.doc["said"].(map[string]any)
	for sense, list := range from {
		if _, ok := table[sense]; !ok {
			s.fail(Missing, "said."+sense, "is missing; %s has it", s.original.read.at("said."+sense))
			s.problems[len(s.problems)-1].Source = strings.Join(list, ", ")
		}
	}
	for sense := range s.lang.said {
		if from[sense] == nil {
			s.fail(Unknown, "said."+sense, "is not in %s.toml", Source)
		}
	}
}

// said collects the lists of all languages.
func said(compilers []*compiler) map[string][]string {
	all := map[string][]string{}
	for _, s := range compilers {
		for sense, list := range s.lang.said {
			all[sense] = append(all[sense], list...)
		}
	}
	return all
}
