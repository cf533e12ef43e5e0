package answer

import "testing"

func TestParseChoice(t *testing.T) {
	for in, want := range map[string]byte{"1": '1', "1#": '1', "1*": '1', " (2)": '2', "३.": '3', "0": '0'} {
		if got, r := Choice(in, []byte("1230")); r != nil || got != want {
			t.Errorf("%q: %c, %v; want %c", in, got, r, want)
		}
	}
	for _, in := range []string{"", "4", "11", "01", "one", "1 2", "-1", "\x00", "\xff"} {
		got, r := Choice(in, []byte("1230"))
		if wantRefusal(t, in, r); got != 0 {
			t.Errorf("%q: refused and %c", in, got)
		}
	}
}

func TestParseWhole(t *testing.T) {
	for _, c := range []struct {
		in   string
		want int // -1 if the entry must be refused
	}{
		{"3", 3}, {"03", 3}, {" 30. ", 30}, {"৩০", 30}, {"31", -1}, {"2", -1}, {"-5", -1}, {"5.5", -1}, {"5,5", -1},
		{"1e1", -1}, {"five", -1}, {"", -1}, {"5 6", -1}, {"99999999999999999999", -1}, {"0x5", -1}, {"+5", -1},
	} {
		got, r := Whole(c.in, 3, 30)
		if c.want < 0 {
			wantRefusal(t, c.in, r)
		} else if r != nil || got != c.want {
			t.Errorf("%q: %d, %v; want %d", c.in, got, r, c.want)
		}
	}
	for in, want := range map[string]int{"0": 0, "150": 150} {
		if n, r := DaysAgo(in, 150); n != want || r != nil {
			t.Errorf("%s days: %d, %v", in, n, r)
		}
	}
	if _, r := DaysAgo("151", 150); r == nil || r.Key != "refuse.days" || r.Args["to"] != 150 {
		t.Errorf("151 days: %+v", r)
	}
	if n, r := People("50"); n != 50 || r != nil {
		t.Errorf("50 people: %d, %v", n, r)
	}
	for _, in := range []string{"0", "51"} {
		if _, r := People(in); r == nil || r.Key != "refuse.people" {
			t.Errorf("%s people: %+v", in, r)
		}
	}
}

func TestParseBags(t *testing.T) {
	for typed, want := range map[string]float64{"12": 12, "7.5": 7.5, "7,5": 7.5, "0": 0, "10000": 10000} {
		if got, refused := Bags(typed); refused != nil || got != want {
			t.Errorf("%q: %g, %v", typed, got, refused)
		}
	}
	for _, typed := range []string{"", "many", "-3", "10001", "1 2"} {
		if got, refused := Bags(typed); refused == nil {
			t.Errorf("%q was read as %g", typed, got)
		}
	}
}

func FuzzParseWhole(f *testing.F) {
	for _, name := range []string{"whole", "days", "people"} {
		seed(f, name)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if n, r := Whole(s, 3, 60); r == nil && (n < 3 || n > 60) {
			t.Fatalf("%q is %d", s, n)
		}
		if n, r := Days(s, 3, 60); r == nil && (n < 3 || n > 60) {
			t.Fatalf("%q is %d days", s, n)
		}
		readBack(t, "whole", s)
		readBack(t, "days", s)
		readBack(t, "people", s)
	})
}

func FuzzParseBags(f *testing.F) {
	fuzzEntries(f, "bags", func(t *testing.T, s string) {
		if n, refused := Bags(s); refused == nil && !(n >= 0 && n <= maxBags) {
			t.Fatalf("%q is %g bags", s, n)
		}
	})
}
