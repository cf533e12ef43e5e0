package recordfile_test

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"math"
	"reflect"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // makes every run draw the same random values
	"rowbell/store/recordfile"
)

var header = recordfile.Header{Schema: 17, At: 1, From: "rowbell.db", LastID: map[string]int64{"a": 7},
	Tables: []recordfile.Table{
		{Name: "a", Columns: []recordfile.Column{{Name: "id", Kind: recordfile.Integer},
			{Name: "x", Kind: recordfile.Real}, {Name: "t", Kind: recordfile.Text},
			{Name: "b", Kind: recordfile.Blob}}},
		{Name: "none", Columns: []recordfile.Column{{Name: "id", Kind: recordfile.Integer}}},
		{Name: "c", Columns: []recordfile.Column{{Name: "id", Kind: recordfile.Integer}}},
	}}

var content = [3][][]any{
	{{int64(1), 0.1, "a\x00ü", []byte{0, 255}}, {int64(math.MinInt64), math.Inf(-1), "", []byte{}},
		{int64(3), nil, nil, nil}},
	{},
	{{int64(math.MaxInt64)}},
}

func write(t testing.TB, h recordfile.Header, tables [3][][]any) []byte {
	t.Helper()
	var file bytes.Buffer
	w, err := recordfile.NewWriter(&file, h)
	for _, rows := range tables {
		for _, row := range rows {
			err = errors.Join(err, w.Row(row))
		}
		err = errors.Join(err, w.EndTable())
	}
	if _, last := w.Close(); errors.Join(err, last) != nil {
		t.Fatal(err, last)
	}
	return file.Bytes()
}

func TestAFileIsReadAsItWasWritten(t *testing.T) {
	file := write(t, header, content)
	r, err := recordfile.NewReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(r.Header(), header) {
		t.Errorf("header %+v", r.Header())
	}
	got := [3][][]any{{}, {}, {}}
	for {
		table, row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		got[table] = append(got[table], row)
	}
	if !reflect.DeepEqual(got, content) {
		t.Errorf("read %#v", got)
	}
}

// Whatever octet is changed, and wherever the file is cut off or goes on: the check refuses it.
func TestAChangedFileIsRefused(t *testing.T) {
	file := write(t, header, content)
	_, want, err := recordfile.Check(bytes.NewReader(file))
	if err != nil || len(want) != 3 || want[0].Rows != 3 {
		t.Fatal(want, err)
	}
	for at := range file {
		if _, _, err := recordfile.Check(bytes.NewReader(file[:at])); err == nil {
			t.Errorf("cut off at %d: not refused", at)
		}
		b := bytes.Clone(file)
		b[at] ^= 1 << (at % 8)
		// Some bits of gzip mean nothing, such as the name of the system: changing them changes nothing that is read.
		h, sums, err := recordfile.Check(bytes.NewReader(b))
		if err == nil && !(reflect.DeepEqual(h, header) && reflect.DeepEqual(sums, want)) {
			t.Errorf("changed at %d: not refused", at)
		}
	}
	for _, more := range [][]byte{{0}, file, zipped(t, nil)} {
		if _, _, err := recordfile.Check(bytes.NewReader(append(bytes.Clone(file), more...))); err == nil {
			t.Errorf("%d octets more: not refused", len(more))
		}
	}
}

func unzipped(t testing.TB, file []byte) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(file[recordfile.MagicSize:]))
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func zipped(t testing.TB, b []byte) []byte {
	t.Helper()
	var file bytes.Buffer
	w, err := gzip.NewWriterLevel(&file, gzip.NoCompression)
	if err == nil {
		_, err = w.Write(b)
		err = errors.Join(err, w.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// The sums of the file itself find each change. That of gzip does not count here, because gzip is applied afterwards.
func TestAChangeBeforeCompressionIsRefused(t *testing.T) {
	file := write(t, header, content)
	magic, plain := file[:recordfile.MagicSize], unzipped(t, file)
	_, want, err := recordfile.Check(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	for at := range plain {
		b := bytes.Clone(plain)
		b[at]++
		h, sums, err := recordfile.Check(bytes.NewReader(append(bytes.Clone(magic), zipped(t, b)...)))
		if !errors.Is(err, recordfile.ErrChanged) {
			t.Errorf("changed at %d: %+v %v %v, want %v", at, h, sums, err, want)
		}
	}
}

// A row that the header does not announce, and a length that no row has, are refused before they are used.
func TestARowThatDoesNotFitIsNotRead(t *testing.T) {
	file := write(t, header, content)
	plain := unzipped(t, file)
	end := bytes.IndexByte(plain, '\n') + 1
	line, rows := plain[:end], plain[end:]
	huge := binary.AppendUvarint(nil, 1<<62)
	for name, b := range map[string][]byte{
		"another kind": slices.Concat(bytes.Replace(line, []byte(`"integer"`), []byte(`"text"`), 1), rows),
		"too long":     slices.Concat(line, huge, rows),
	} {
		b = append(bytes.Clone(file[:recordfile.MagicSize]), zipped(t, b)...)
		r, err := recordfile.NewReader(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if _, row, err := r.Next(); !errors.Is(err, recordfile.ErrChanged) {
			t.Errorf("%s: %v %v", name, row, err)
		}
	}
}

// A header without an end is not read for ever.
func TestAHeaderWithoutAnEndIsRefused(t *testing.T) {
	read, out := io.Pipe()
	const all = 64 << 20
	written := make(chan int)
	go func() {
		_, _ = out.Write(write(t, header, content)[:recordfile.MagicSize])
		w, _ := gzip.NewWriterLevel(out, gzip.NoCompression)
		n := 0
		for block := make([]byte, 1<<16); n < all; n += len(block) {
			if _, err := w.Write(block); err != nil {
				break
			}
		}
		_ = out.Close()
		written <- n
	}()
	_, err := recordfile.NewReader(read)
	_ = read.Close()
	if n := <-written; !errors.Is(err, recordfile.ErrChanged) || n == all {
		t.Errorf("%v after %d octets", err, n)
	}
}

// An error of the disk is not taken for a changed file.
func TestAnErrorOfTheDiskIsReported(t *testing.T) {
	file := write(t, header, content)
	broken := &fs.PathError{Op: "read", Path: "a.records", Err: syscall.EIO}
	for at := range file {
		_, _, err := recordfile.Check(io.MultiReader(bytes.NewReader(file[:at]), iotest.ErrReader(broken)))
		if !errors.Is(err, syscall.EIO) || errors.Is(err, recordfile.ErrChanged) {
			t.Errorf("at %d: %v", at, err)
		}
	}
}

// A row that was put in, left out or exchanged changes the sums, also if the file is well formed otherwise.
func TestSumsTellRowsApart(t *testing.T) {
	_, want, err := recordfile.Check(bytes.NewReader(write(t, header, content)))
	if err != nil {
		t.Fatal(err)
	}
	for name, rows := range map[string][][]any{
		"one less":  content[0][:2],
		"one more":  append(content[0][:3:3], content[0][0]),
		"exchanged": {content[0][1], content[0][0], content[0][2]},
		"null":      {content[0][0], content[0][1], {int64(3), nil, "", nil}},
	} {
		_, got, err := recordfile.Check(bytes.NewReader(write(t, header, [3][][]any{rows, content[1], content[2]})))
		if err != nil || got[0] == want[0] || got[2] != want[2] {
			t.Errorf("%s: %v %v", name, got, err)
		}
	}
}

func TestAnotherFileIsRefused(t *testing.T) {
	for text, want := range map[string]error{
		"": recordfile.ErrOther, "SQLite format 3\x00 and more": recordfile.ErrOther,
		"rowbell records 2\nwhatever": recordfile.ErrNewer, "rowbell records 1\nwhatever": recordfile.ErrChanged,
	} {
		if _, err := recordfile.NewReader(strings.NewReader(text)); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", text, err, want)
		}
	}
}

func TestARowThatDoesNotFitIsRefused(t *testing.T) {
	w, err := recordfile.NewWriter(io.Discard, header)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range [][]any{{}, {int64(1)}, {"1", 0.1, "", []byte{}}, {int64(1), int64(1), "", []byte{}}} {
		if w.Row(row) == nil {
			t.Errorf("%v was taken", row)
		}
	}
	for i := range header.Tables {
		if _, err := w.Close(); err == nil {
			t.Errorf("the file was ended after %d tables", i)
		}
		if err := w.EndTable(); err != nil {
			t.Fatal(err)
		}
	}
	if w.Row([]any{int64(1)}) == nil {
		t.Error("a row after the last table was taken")
	}
}

func TestRowsAreParsedAsTheyWereEncoded(t *testing.T) {
	value := rapid.OneOf(rapid.Just[any](nil), rapid.Int64().AsAny(), rapid.Float64().AsAny(), rapid.String().AsAny(),
		rapid.SliceOf(rapid.Byte()).AsAny())
	rapid.Check(t, func(t *rapid.T) {
		row := rapid.SliceOfN(value, 1, 9).Draw(t, "row")
		b := recordfile.AppendRow(nil, row)
		got, err := recordfile.ParseRow(b)
		if err != nil || !reflect.DeepEqual(got, row) {
			t.Fatalf("%#v became %#v, %v", row, got, err)
		}
		at := rapid.IntRange(0, len(b)-1).Draw(t, "at")
		if short, err := recordfile.ParseRow(b[:at]); err == nil && len(short) >= len(row) {
			t.Fatalf("cut off at %d: %#v", at, short)
		}
	})
}
