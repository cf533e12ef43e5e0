package profile

import "strings"

// TLSFiles are the paths of PEM files for the connections to a network. The package does not read them.
type TLSFiles struct {
	Certificate string `toml:"certificate"` // our certificate, then those that signed it
	Key         string `toml:"key"`         // the private key of our certificate
	Authority   string `toml:"authority"`   // who signs the network's certificate; "" = those that the system knows
}

// check refuses half a pair of files, and files for an address without TLS.
func (f TLSFiles) check(url string) error {
	var m mistakes
	m.refuse(f.Certificate != "" && f.Key == "", "key", "the certificate needs the file of its private key")
	m.refuse(f.Certificate == "" && f.Key != "", "certificate", "the key needs the file of its certificate")
	m.refuse(f != TLSFiles{} && !strings.HasPrefix(strings.ToLower(url), "https:"),
		"url", "certificate, key and authority are for an address that begins with https")
	return m.Err()
}
