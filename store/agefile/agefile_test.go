package agefile

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"filippo.io/age"
)

// The format is that of any program for age: what this package encrypts, the library decrypts by itself.
func TestFormat(t *testing.T) {
	key, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	to, err := Recipients([]string{" " + key.Recipient().String() + "\n"})
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	want := Note{Schema: 9, Growers: 12, Stopped: 3, OpenPlots: 40, Rows: 13, LastID: 77, Newest: 1_795_000_000}
	check, err := Encrypt(&file, strings.NewReader("many records"), to, want)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := age.Decrypt(bytes.NewReader(file.Bytes()), key)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := io.ReadAll(plain); err != nil || string(b) != "many records" {
		t.Errorf("%q, %v", b, err)
	}
	if got, err := ReadNote(bytes.NewReader(file.Bytes())); err != nil || got != want {
		t.Errorf("the note is %+v, %v", got, err)
	}
	if err := check.Verify(bytes.NewReader(file.Bytes())); err != nil {
		t.Error(err)
	}
	for i := range file.Len() {
		changed := bytes.Clone(file.Bytes())
		changed[i] ^= 1
		if check.Verify(bytes.NewReader(changed)) == nil || check.Verify(bytes.NewReader(changed[:i])) == nil {
			t.Errorf("a file that is changed or cut at octet %d is taken for whole", i)
		}
	}
}

// A file of another encryption, or of none, has no note.
func TestNoNote(t *testing.T) {
	for _, file := range []string{
		"", magic, magic + "-> X25519 abc\nabc\n--- abc\n", magic + "-> rowbell-note growers=1\n--- abc\n",
		magic + "--- abc\n-> rowbell-note schema=1 growers=1 stopped=1 plots=1 rows=1 last=1 newest=1\n",
		magic + "-> rowbell-note schema=x growers=1 stopped=1 plots=1 rows=1 last=1 newest=1\n",
		magic + strings.Repeat("-> X25519 a\n", 10_000) +
			"-> rowbell-note schema=1 growers=1 stopped=1 plots=1 rows=1 last=1 newest=1\n",
	} {
		if n, err := ReadNote(strings.NewReader(file)); err == nil {
			t.Errorf("%.60q has the note %+v", file, n)
		}
	}
}

func FuzzReadNote(f *testing.F) {
	f.Add([]byte(magic + "-> rowbell-note schema=1 growers=1 stopped=1 plots=1 rows=1 last=1 newest=1\n"))
	f.Fuzz(func(_ *testing.T, b []byte) { _, _ = ReadNote(bytes.NewReader(b)) })
}
