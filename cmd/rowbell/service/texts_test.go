package service

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/desk"
	"rowbell/gateway/profile"
	"rowbell/menu/text"
)

// startWithTexts starts a service with a folder of texts. It reads the same configuration anew.
func startWithTexts(t *testing.T, files map[string]string) (s *started, folder string) {
	t.Helper()
	folder = t.TempDir()
	for name, content := range files {
		ok(t, os.WriteFile(filepath.Join(folder, name), []byte(content), 0o640))
	}
	c := config.Default()
	c.DB, c.Texts.Folder, c.Texts.Languages = filepath.Join(t.TempDir(), "rowbell.db"), folder, []string{"en", "sw"}
	s = start(t, c, time.Date(2026, 6, 2, 9, 0, 0, 0, time.UTC))
	s.load = func() (config.Config, []profile.Profile, *config.Secrets, error) {
		networks, err := c.Networks(func(string) string { return "" })
		if err == nil {
			_, err = c.Texts.Catalogue()
		}
		return c, networks, nil, err
	}
	return s, folder
}

// texts returns what changes texts with the configuration of now.
func (s *started) texts() texts { p := s.parts.Load(); return texts{s.Service, p.conf, p.menu} }

func oneForm(s string) []text.Form { return []text.Form{{Text: s}} }

func content(t *testing.T, folder, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(folder, name))
	ok(t, err)
	return string(b)
}

// A changed text is in the file, and growers read it at once. The comments of the file stay, and so do its rights.
func TestTextIsChanged(t *testing.T) {
	s, folder := startWithTexts(t, map[string]string{"en.toml": "# ours\n[home]\nask = \"What next?\" # short\n"})
	trial, err := s.texts().Change(t.Context(), "en", "home.ask", oneForm("What now, friend?"))
	if err != nil || len(trial.Problems) > 0 {
		t.Fatalf("%+v %v", trial, err)
	}
	if got := content(t, folder, "en.toml"); got != "# ours\n[home]\nask = \"What now, friend?\" # short\n" {
		t.Errorf("the file has %q", got)
	}
	if got := s.parts.Load().menu.SMSCatalogue().Template("en", "home.ask"); got != "What now, friend?" {
		t.Errorf("growers read %q", got)
	}
	info, err := os.Stat(filepath.Join(folder, "en.toml"))
	if err != nil || info.Mode().Perm() != 0o640 {
		t.Errorf("%v %v", info.Mode(), err)
	}
	// A language without a file gets one.
	trial, err = s.texts().Change(t.Context(), "sw", "home.ask", oneForm("Nini sasa?"))
	if err != nil || len(trial.Problems) > 0 {
		t.Fatalf("%+v %v", trial, err)
	}
	if got := content(t, folder, "sw.toml"); got != "\n[home]\nask = \"Nini sasa?\"\n" {
		t.Errorf("the new file has %q", got)
	}
	left, err := filepath.Glob(filepath.Join(folder, ".rowbell-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

// A text that the proof refuses changes neither the file nor what growers read, and the reason is said.
func TestTextIsRefused(t *testing.T) {
	const file = "[home]\nask = \"What next?\"\n"
	s, folder := startWithTexts(t, map[string]string{"en.toml": file})
	for name, c := range map[string]struct {
		key  text.Key
		text string
		want string
	}{
		"a value that nothing fills in": {"home.ask", "What now, {who}?", "who"},
		"letters outside the alphabet":  {"home.ask", "Què ŋ?", "ŋ"},
		"too wide for a page":           {"home.new", strings.Repeat("new plot ", 30), "home.new"},
		"too long for a text":           {"sms.help", "{code}" + strings.Repeat(" Help yourself.", 40), "segments"},
		"a value is left out":           {"resume.change", "You were changing something.", "plot"},
	} {
		before := s.parts.Load()
		trial, err := s.texts().Change(t.Context(), "en", c.key, oneForm(c.text))
		if err != nil || !strings.Contains(strings.Join(trial.Problems, "\n"), c.want) {
			t.Errorf("%s: %+v %v", name, trial, err)
		}
		if got := content(t, folder, "en.toml"); got != file || s.parts.Load() != before {
			t.Errorf("%s: the file has %q", name, got)
		}
	}
}

// If the configuration cannot be read with the text, the file is as it was before.
func TestTextIsTakenBack(t *testing.T) {
	const file = "[home]\nask = \"What next?\"\n"
	s, folder := startWithTexts(t, map[string]string{"en.toml": file})
	s.load = func() (config.Config, []profile.Profile, *config.Secrets, error) {
		return config.Config{}, nil, nil, errors.New("limits.currency: not three letters")
	}
	trial, err := s.texts().Change(t.Context(), "en", "home.ask", oneForm("What now, friend?"))
	if err != nil || len(trial.Problems) != 1 || !strings.Contains(trial.Problems[0], "limits.currency") {
		t.Errorf("%+v %v", trial, err)
	}
	if got := content(t, folder, "en.toml"); got != file {
		t.Errorf("the file has %q", got)
	}
	trial, err = s.texts().Change(t.Context(), "sw", "home.ask", oneForm("Nini sasa?"))
	if _, there := os.Stat(filepath.Join(folder, "sw.toml")); err != nil || len(trial.Problems) != 1 ||
		!errors.Is(there, fs.ErrNotExist) {
		t.Errorf("%+v %v %v", trial, err, there)
	}
}

// Try says how long a text is, and writes nothing.
func TestTextIsTried(t *testing.T) {
	const file = "[home]\nask = \"What next?\"\n"
	s, folder := startWithTexts(t, map[string]string{"en.toml": file})
	for key, want := range map[text.Key]string{"home.ask": "8 octets; a page of USSD has 160", "sms.stopped": "1 SMS"} {
		trial, err := s.texts().Try("en", key, oneForm("What now?"), false)
		if err != nil || len(trial.Problems) > 0 || !strings.Contains(trial.Length, want) {
			t.Errorf("%s: %+v %v", key, trial, err)
		}
	}
	if got := content(t, folder, "en.toml"); got != file {
		t.Errorf("the file has %q", got)
	}
	none := texts{s.Service, config.Default(), s.parts.Load().menu}
	if _, err := none.Try("en", "home.ask", oneForm("x"), false); !errors.Is(err, desk.ErrNoTextFolder) {
		t.Errorf("without a folder: %v", err)
	}
	if _, err := none.Change(t.Context(), "en", "home.ask", oneForm("x")); !errors.Is(err, desk.ErrNoTextFolder) {
		t.Errorf("without a folder: %v", err)
	}
}
