package desk

import (
	"fmt"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/store"
)

// plotForm returns what the form of a plot has, with some values replaced: names and values in turn.
func plotPairs(change ...string) (pairs []string) {
	values := []string{"label", "well", "method", "1", "planted", "13 May", "puddled", "", "row", "25", "hill", "25",
		"age", "", "seedlings", "", "deep", "0", "area", "1000", "flood", "0", "soil", "0", "duration", "",
		"tool", "15"}
	for i := 0; i < len(values); i += 2 {
		for j := 0; j < len(change); j += 2 {
			if change[j] == values[i] {
				values[i+1] = change[j+1]
			}
		}
	}
	return values
}

func TestAddPlot(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/grower/%d/plot", id)
	b.get(path).has(t, 200, "Name of the plot", "Width of the tool")
	for _, c := range []struct{ name, value, want string }{
		{"label", "well", "Another plot of this grower has that name."},
		{"label", "a;b", "Use only letters and digits."},
		{"planted", "", "Nothing was typed."},
		{"planted", "31/2", "There is no day 31/2."},
		{"planted", "1/1/20", "days ago"},
		{"row", "", "Without the distance of the rows"},
		{"row", "500", "It must be 5 to 100 cm."},
		{"area", "big", "Not big."},
		{"age", "2", "type a number, 5 to 60"},
		{"puddled", "1 Jun", "That is after planting."},
		{"method", "7", "Choose one of the list."},
		{"tool", "x", "is not a length"},
	} {
		p := b.post(path, plotPairs("label", "hill", c.name, c.value)...)
		p.has(t, 422, c.want)
		if !strings.Contains(p.Body, `aria-invalid="true"`) || !strings.Contains(p.Body, `id="m-`+c.name+`"`) {
			t.Errorf("%s %q: the mistake is not at its field", c.name, c.value)
		}
	}
	b.post(path, plotPairs("label", "hill", "planted", "20", "area", "20*30", "tool", "10-15")...).has(t, 200, "Added.")
	got := o.sheet(2).Season
	want := engine.Plot{Label: "hill", Method: engine.Transplanted, Planted: today(o) - 20, RowSpacingCM: 25,
		HillSpacingCM: 25, AreaM2: 600}
	if got.Plot != want || got.Tool != (engine.Tool{WidthCM: 10, MaxWidthCM: 15}) {
		t.Errorf("stored is %+v with %+v", got.Plot, got.Tool)
	}
	if got := o.trail(); got != "field added a plot:  → transplanted 2026-05-13" {
		t.Errorf("the trail says %q", got)
	}
}

func today(o *office) engine.Day { return engine.DayOf(o.clock.Now(), nine.Location()) }

// What is likely a slip is asked back, and counts when it is sent again as it is.
func TestDoubtIsAskedBack(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/grower/%d/plot", id)
	p := b.post(path, plotPairs("label", "hill", "row", "52")...)
	p.has(t, 422, "This was read as 52 cm. Did you mean 25 cm? If that is right, send it again as it is.")
	if got := p.hidden(t, "sure-row"); got != "52" {
		t.Errorf("the hidden field has %q", got)
	}
	b.post(path, append(plotPairs("label", "hill", "row", "62"), "sure-row", "52")...).has(t, 422, "read as 62 cm")
	b.post(path, append(plotPairs("label", "hill", "row", "52"), "sure-row", "52")...).has(t, 200, "Added.")
	if got := o.sheet(2).Season.Plot.RowSpacingCM; got != 52 {
		t.Errorf("stored are %g cm", got)
	}
}

func TestCorrectPlot(t *testing.T) {
	o := newOffice(t)
	_, plot := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/plot/%d", plot)
	b.get(path+"/change").has(t, 200, "Correct plot 1 well")
	b.post(path+"/change", plotPairs("row", "20", "planted", "2026-05-12", "method", "1")...).has(t, 200, "Corrected.",
		"planted 2026-05-13, row 25 → planted 2026-05-12, row 20", "Correction of the plot")
	if got := o.sheet(plot).Season.Plot; got.RowSpacingCM != 20 || got.Planted != today(o)-21 {
		t.Errorf("stored is %+v", got)
	}
	before := len(o.sheet(plot).Corrections)
	b.post(path+"/change", plotPairs("row", "20", "planted", "2026-05-12")...).has(t, 200, "Corrected.")
	if after := len(o.sheet(plot).Corrections); after != before {
		t.Errorf("the same values are a correction: %d and %d", before, after)
	}
	b.post(path+"/change", plotPairs("method", "3")...).has(t, 200, "Corrected.", "broadcast")
}

func TestLogAndCorrectWeeding(t *testing.T) {
	o := newOffice(t)
	_, plot := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/plot/%d", plot)
	b.get(path+"/pass").has(t, 200, "How it was weeded")
	for _, c := range []struct{ on, part, hours, want string }{
		{"5 Jun", "0", "", "has not come yet"},
		{"1 May", "0", "", "That is before planting, 13 May 2026."},
		{"today", "9", "", "Choose one of the list."},
		{"today", "0", "soon", "is not hours"},
	} {
		b.post(path+"/pass", "on", c.on, "with", "1", "part", c.part, "left", "0", "hours", c.hours).has(t, 422, c.want)
	}
	b.post(path+"/pass", "on", "yesterday", "with", "3", "part", "0", "left", "1", "hours", "3", "people", "2").
		has(t, 200, "The weeding is logged.",
			"Weeded with the tool along and across, 3 h with 2 people, few weeds left", "field logged a weeding")
	b.post(path+"/pass", "on", "yesterday", "with", "hand", "part", "0", "left", "0").has(t, 422,
		"A weeding on that day is logged already.")
	want := engine.Pass{On: today(o) - 1, With: engine.ByTool, Way: engine.Both, Hours: 3, People: 2, Left: engine.Few}
	if got := o.sheet(plot).Season.Passes; len(got) != 1 || got[0] != want {
		t.Fatalf("stored is %+v", got)
	}

	// Only a half was weeded.
	entry := fmt.Sprintf("%s/pass/%d.0", path, want.On)
	b.get(entry).has(t, 200, "Correct a weeding", "Take this weeding out")
	b.post(entry, "on", want.On.String(), "with", "3", "part", "1", "left", "1", "hours", "3", "people", "2").
		has(t, 200, "Corrected.", "Correction of the pass", "share not told → share 0.5", "50 % of the plot")
	want.Share = 0.5
	if got := o.sheet(plot).Season.Passes; len(got) != 1 || got[0] != want {
		t.Fatalf("stored is %+v", got)
	}
	if got := o.trail(); !strings.HasPrefix(got, "field corrected a weeding: 1 Jun, with the tool") {
		t.Errorf("the trail says %q", got)
	}

	// The rest is weeded today: "all" is what was left of it.
	b.post(path+"/pass", "on", "today", "with", "3", "part", "5", "left", "0").has(t, 422, "50 % of the plot is weeded")
	b.post(path+"/pass", "on", "today", "with", "3", "part", "0", "left", "0").has(t, 200, "The weeding is logged.")
	if got := o.sheet(plot).Season.Passes; len(got) != 2 || got[1].Share != 0.5 {
		t.Fatalf("stored is %+v", got)
	}

	b.post(entry+"/remove").has(t, 200, "Taken out.", "taken out")
	b.post(entry+"/remove").has(t, 200, "Somebody changed this meanwhile")
	b.get(entry).has(t, 404, "Nothing here")
	if got := o.sheet(plot).Season.Passes; len(got) != 1 {
		t.Fatalf("stored is %+v", got)
	}
}

func TestLogAndCorrectSighting(t *testing.T) {
	o := newOffice(t)
	_, plot := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/plot/%d", plot)
	none := []string{"on", "today", "leaves", "0", "amount", "0", "rows", "0", "water", "0"}
	b.post(path+"/sighting", none...).has(t, 422, "Nothing was seen")
	b.post(path+"/sighting", "on", "1 May", "leaves", "1", "amount", "0", "rows", "0", "water", "0").has(t, 422,
		"That is before planting")
	b.post(path+"/sighting", "on", "today", "leaves", "2", "amount", "1", "rows", "1", "water", "2").has(t, 200,
		"What was seen is logged.", "Seen: most weeds with 2-3 leaves, few weeds, rows open, water: mud")
	entry := fmt.Sprintf("%s/sighting/%d.0", path, today(o))
	b.post(entry, "on", today(o).String(), "leaves", "1", "amount", "1", "rows", "1", "water", "2").has(t, 200,
		"Corrected.", "weed leaves 2-3 → weed leaves 1")
	want := engine.Sighting{On: today(o), Leaves: engine.OneLeaf, Amount: engine.Few, Rows: engine.RowsOpen,
		Water: engine.StandsMud}
	if got := o.sheet(plot).Season.Sightings; len(got) != 1 || got[0] != want {
		t.Fatalf("stored is %+v", got)
	}
	b.post(entry+"/remove").has(t, 200, "Taken out.")
	if got := o.sheet(plot).Season.Sightings; len(got) != 0 {
		t.Errorf("stored is %+v", got)
	}
}

func TestReplantAndClosePlot(t *testing.T) {
	o := newOffice(t)
	_, plot := o.grower(ana, "Ana", "north")
	b, path := o.as("field"), fmt.Sprintf("/desk/plot/%d", plot)
	b.post(path+"/pass", "on", "25 May", "with", "1", "part", "0", "left", "0").has(t, 200, "The weeding is logged.")
	b.get(path+"/replant").has(t, 200, "1 weeding and 0 sightings of the former planting")
	b.post(path+"/replant", plotPairs("planted", "10 May")...).has(t, 422, "That is not after the former planting")
	b.post(path+"/replant", plotPairs("planted", "30 May")...).has(t, 200, "has left the season",
		"transplanted on 30 May")
	s := o.sheet(plot)
	if s.Season.Plot.Planted != today(o)-3 || len(s.Season.Passes) != 0 || s.Season.Tool.WidthCM != 15 {
		t.Errorf("stored is %+v", s.Season)
	}
	b.get(path+"/close").has(t, 200, "This cannot be taken back.")
	p := b.post(path + "/close")
	p.has(t, 200, "The plot is closed.", "closed on 2 Jun 2026")
	p.hasNot(t, "Log a weeding")
	for _, form := range []string{"/close", "/change", "/replant"} {
		b.post(path+form, plotPairs("planted", "31 May")...).has(t, 200, "The plot is closed, so nothing was changed.")
	}
	b.post(path+"/pass", "on", "today", "with", "1", "part", "0", "left", "0").has(t, 200, "so nothing was changed")
}

func TestConversation(t *testing.T) {
	o := newOffice(t)
	id, _ := o.grower(ana, "Ana", "north")
	now := nine.Unix()
	o.tx(func(tx *store.Tx) error {
		text := func(key, note string) store.Message {
			return store.Message{Key: key, GrowerID: id, To: ana, Note: note, Text: "the text " + key, CreatedAt: now,
				DueAt: now, UsefulUntil: now + 3600}
		}
		for _, m := range []store.Message{text("a", "reply"), text("b", "reply")} {
			if _, err := tx.Enqueue(m); err != nil {
				return err
			}
		}
		err := tx.StoreReply("local", "ussd:x", ana, []byte(`{"text":"What now?","more":false}`), now-60)
		if err == nil {
			err = tx.StoreReply("local", "thread:x", ana, []byte(`{"text":"hidden","more":true}`), now-60)
		}
		if err == nil {
			err = tx.SavePrompt(store.Prompt{Phone: ana, Body: []byte("x"), AskedAt: now, Until: now + 60})
		}
		return err
	})
	b, path := o.as("field"), fmt.Sprint("/desk/conversation/", id)
	p := b.get(path)
	p.has(t, 200, "the text a", "the text b", "What now?", "the call ended with this", "waits, due 2 Jun 2026 09:00",
		"A question that one digit answers was asked")
	p.hasNot(t, "hidden", "Send again")
	b.post(path+"/withdraw", "text", "1").has(t, 200, "The text is withdrawn.", "withdrawn on 2 Jun 2026 09:00")
	b.post(path+"/withdraw", "text", "1").has(t, 200, "does not wait any more")
	b.post(path+"/withdraw", "text", "99").has(t, 404)
	b.post(path+"/again", "text", "1").has(t, 200, "cannot be sent again")

	o.tx(func(tx *store.Tx) error {
		c, err := tx.Claim(now, store.Claimant{Gateway: "local", RoutePrefixes: []string{""}, Max: 9, Lease: 60e9})
		if err != nil || len(c.Texts) != 1 {
			return fmt.Errorf("%d texts, %w", len(c.Texts), err)
		}
		return tx.Settle(now, c.Texts[0].Refuse("no credit"))
	})
	b.get(path).has(t, 200, "refused on 2 Jun 2026 09:00: no credit", "Send again")
	b.post(path+"/again", "text", "2").has(t, 200, "The text is sent again.")
	b.post(path+"/again", "text", "2").has(t, 200, "cannot be sent again")
	if got := o.trail(); got != "field sent a text again:  → " {
		t.Errorf("the trail says %q", got)
	}
	o.as("viewer").get(path).has(t, 403, "Not with your role")
}
