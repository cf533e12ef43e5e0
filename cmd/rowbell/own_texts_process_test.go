package main

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// seventhLanguage writes a folder with a language that the program does not carry. The content is invented: it is
// English with letters that the GSM alphabet lacks.
func seventhLanguage(t *testing.T) (folder string) {
	t.Helper()
	sheet := strings.Replace(named(t, "Ewegbe"), "\n[calendar]\n", "\n[to-gsm7]\n\"ŋ\" = \"ng\"\n[calendar]\n", 1)
	return writeFiles(t, map[string]string{"ee.toml": strings.Replace(sheet, `"What now?"`, `"Nu ka ŋ?"`, 1)})
}

// A grower who calls for the first time is offered the languages of the place first, also the operator's own one. A
// choice that is too long is named when the service starts, and the grower is answered all the same.
func TestOwnTextsAtThePhone(t *testing.T) {
	dir := seventhLanguage(t)
	long := "[home]\nnew = \"" + strings.Repeat("mpya ", 45) + "!\""
	must(t, os.WriteFile(filepath.Join(dir, "sw.toml"), []byte(long), 0o600))
	p := newProcess(t)
	raw, err := os.ReadFile("../../testdata/dialogues/rowbell.toml")
	must(t, err)
	conf := strings.Replace(string(raw), "[place]\n", "[place]\nlanguages = ['sw', 'ee']\n", 1)
	conf = strings.Replace(conf, "name = \"hills\"\n", "name = \"hills\"\nlanguages = ['pt']\n", 1)
	file := filepath.Join(p.dir, "rowbell.toml")
	must(t, os.WriteFile(file, []byte(conf+"\n[texts]\nfolder = '"+dir+"'\n"), 0o600))
	at := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	p.run("serve", "--listen", "127.0.0.1:0", "--config", file, "--test-clock", at.Format(time.RFC3339))
	if log := p.log.String(); !strings.Contains(log, "sw.toml:2: home.new: by ussd, screen ") ||
		strings.Contains(log, "ee.toml") {
		t.Errorf("the log does not name the long choice, or names another:\n%s", log)
	}
	step := -1
	says := func(entry string, want string) {
		t.Helper()
		step++
		call := map[string]any{"phone": "+447700900411", "event": "entry", "entry": entry, "session": "s1",
			"step": step}
		if step == 0 {
			call["event"], call["dialled"], call["entry"] = "begin", entry, ""
		}
		var reply struct{ Text string }
		must(t, json.Unmarshal(p.post("ussd", call, http.StatusOK), &reply))
		if !strings.HasPrefix(reply.Text, want) {
			t.Errorf("%q shows\n%s\nwant\n%s", entry, reply.Text, want)
		}
	}
	says("*123#", "rowbell\n1 Kiswahili\n2 Ewegbe\n3 English\n4 Français\n")
	says("2", "rowbell texts you")
	says("1", "No plot yet: press 1.\nNu ka ng?\n1 new plot")
	says("000", "1 Kiswahili\n2 Ewegbe\n")
	says("0", "No plot yet")
	says("6", "Help and more")
	says("5", "Where are your plots?")
	says("2", "")
	says("000", "1 Português\n2 English\n")
}
