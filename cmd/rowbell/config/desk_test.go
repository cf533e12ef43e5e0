package config

import "testing"

// The address that is printed must open in a browser, also if the service listens on all addresses of the machine.
func TestDeskAddress(t *testing.T) {
	for _, c := range []struct {
		listen, address string
		tls             bool
		want            string
	}{
		{"127.0.0.1:8080", "", false, "http://127.0.0.1:8080"},
		{":8080", "", false, "http://localhost:8080"},
		{"0.0.0.0:8080", "", true, "https://localhost:8080"},
		{"[::]:8080", "", false, "http://localhost:8080"},
		{"192.0.2.7:8443", "", true, "https://192.0.2.7:8443"},
		{":8080", "https://bell.example.org/", false, "https://bell.example.org"},
	} {
		conf := Config{Desk: Desk{Address: c.address}}
		if c.tls {
			conf.TLS = TLS{Cert: "cert.pem", Key: "key.pem"}
		}
		if got := conf.DeskAddress(c.listen); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
	for address, right := range map[string]bool{
		"": true, "https://bell.example.org": true, "http://10.0.0.1:8080/": true,
		"bell.example.org": false, "https://bell.example.org/desk": false, "ftp://bell.example.org": false,
		"https://u@bell.example.org": false, "https://bell.example.org/?a": false} {
		if err := (&Desk{Address: address}).check(); (err == nil) != right {
			t.Errorf("%q: %v", address, err)
		}
	}
}
