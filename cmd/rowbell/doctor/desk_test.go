package doctor

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/store"
)

// The desk is reached by TLS or from this machine only, and an operator can log in.
func TestDesk(t *testing.T) {
	const here, nobody = "ok    desk           at http://127.0.0.1:8080/desk/, from this machine only",
		"note  desk           there is no operator"
	for _, tt := range []struct {
		name, toml string
		staff      func(tx *store.Tx) error
		says       []string
	}{
		{name: "no accounts", says: []string{here, nobody, "rowbell staff add NAME --role operator"}},
		{name: "off", toml: "desk.off = true", says: []string{"ok    desk           off"}},
		{name: "to all the world", toml: "listen = '0.0.0.0:8080'",
			says: []string{"note  desk           at http://localhost:8080/desk/, without TLS", "Set [tls]"}},
		{name: "at another address", toml: "desk.address = 'http://bell.example.org'",
			says: []string{"note  desk           at http://bell.example.org/desk/, without TLS"}},
		{name: "at a proxy", toml: "desk.address = 'https://bell.example.org'\nlisten = '0.0.0.0:8080'",
			says: []string{"ok    desk           at https://bell.example.org/desk/, by TLS"}},
		{name: "at a proxy without a name", toml: "listen = '0.0.0.0:8080'\nproxy.trusted = ['10.0.0.1']",
			says: []string{"begin with http://localhost:8080, which is not the address", "Set desk.address"}},
		{name: "an account for a viewer", says: []string{nobody}, staff: func(tx *store.Tx) error {
			return account(tx, store.Staff{Name: "weaver", Role: store.RoleViewer, Places: store.Scope{1}}, "hash")
		}},
		{name: "an operator who has not come", says: []string{"no operator has used the link", "staff link NAME"},
			staff: func(tx *store.Tx) error {
				return account(tx, store.Staff{Name: "miller", Role: store.RoleOperator}, "")
			}},
		{name: "an operator", says: []string{"ok    desk           operators who can log in: 1"},
			staff: func(tx *store.Tx) error {
				return account(tx, store.Staff{Name: "miller", Role: store.RoleOperator}, "hash")
			}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			db := filepath.Join(dir, "rowbell.db")
			if tt.staff == nil {
				tt.staff = func(*store.Tx) error { return nil }
			}
			records(t, db, tt.staff)
			in := Input{ConfigFile: write(t, dir, "rowbell.toml", tt.toml, 0o600), DB: db, Offline: true,
				Env: func(string) string { return "" }, Now: configtest.SampleTime}
			var out bytes.Buffer
			_ = Print(&out, Examine(t.Context(), in)) // a text that is late is wrong
			for _, want := range tt.says {
				if !strings.Contains(out.String(), want) {
					t.Errorf("%q is missing in\n%s", want, &out)
				}
			}
		})
	}
}

func account(tx *store.Tx, s store.Staff, password string) error {
	id, err := tx.AddStaff(s, 1)
	if err == nil && password != "" {
		err = tx.SetPassword(id, password)
	}
	return err
}
