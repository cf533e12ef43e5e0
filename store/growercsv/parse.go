package growercsv

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"rowbell/store/weathercsv"
)

// Rules are what Parse must be told about the service.
type Rules struct {
	// Phone reads a number as people write it and returns it in E.164.
	Phone func(string) (string, error)
	// Label reads the name of a plot; the error says in words for people what is wrong.
	Label func(string) (string, error)
	// Languages are those in which growers can be served.
	Languages []string
}

// File is a parsed file: its growers in the order of their first rows.
type File struct {
	Growers []Grower
	Rows    int
}

// Parse reads a file of growers and plots. If there is any mistake, no growers are returned. The error is a Mistakes
// with what is wrong in the rows, or says what is wrong with the file or its first line.
func Parse(r io.Reader, with Rules) (File, error) {
	text, err := weathercsv.ReadText(r, "growers")
	if err != nil {
		return File{}, err
	}
	if !utf8.Valid(text) {
		return File{}, fmt.Errorf("line %d is not UTF-8; save the table as CSV in UTF-8", badLine(text))
	}
	p := parser{rules: rules{Rules: with}, at: map[string]int{}, first: map[string]map[string]cell{}}
	p.open(text)
	if err := p.all(); err != nil {
		return File{}, err
	}
	switch {
	case p.head == nil && !p.broken:
		return File{}, fmt.Errorf("the file is empty: its first line must name the columns, such as %s", example)
	case p.rows > MaxRows:
		return File{}, fmt.Errorf("the file has %d rows; at most %d: divide it", p.rows, MaxRows)
	case len(p.mistakes) > 0:
		slices.SortStableFunc(p.mistakes, func(a, b Mistake) int { return cmp.Compare(a.Line, b.Line) })
		return File{}, p.mistakes
	case len(p.growers) == 0:
		return File{}, errors.New("the file has no growers, only the names of columns")
	}
	return File{p.growers, p.rows}, nil
}

const example = "phone,language,place,consent_words,consent_by,consent_on,plot,method,planted,row_spacing_cm"

// badLine returns the number of the first line that is not UTF-8.
func badLine(text []byte) int {
	for i, line := range bytes.Split(text, []byte("\n")) {
		if !utf8.Valid(line) {
			return i + 1
		}
	}
	return 0
}

// cell is a cell as it was read, and its line.
type cell struct {
	text string
	line int
}

// parser reads one file.
type parser struct {
	in       *csv.Reader
	skipped  int // lines before the first one that in reads
	rules    rules
	head     []*column // nil until it is read; the element of an unnamed empty column is nil
	growers  []Grower
	rows     int
	at       map[string]int             // the index in growers of each number
	first    map[string]map[string]cell // by number and column, "plot 1" or "label bund": where it is said first
	mistakes Mistakes
	broken   bool // a quotation mark is missing
}

// open prepares to read the text. Spreadsheets may write a line sep=; before all others.
func (p *parser) open(text []byte) {
	line, rest, _ := bytes.Cut(text, []byte("\n"))
	line = bytes.TrimRight(line, "\r")
	comma := rune(0)
	if s, ok := strings.CutPrefix(string(line), "sep="); ok && utf8.RuneCountInString(s) == 1 {
		comma, _ = utf8.DecodeRuneInString(s)
		text, p.skipped = rest, 1
	}
	if !slices.Contains([]rune{',', ';', '\t'}, comma) {
		comma = separator(text)
	}
	p.in = csv.NewReader(bytes.NewReader(text))
	p.in.Comma, p.in.Comment, p.in.FieldsPerRecord = comma, '#', -1
	p.in.TrimLeadingSpace = comma != '\t' // an empty cell between two tabs would be trimmed
	p.rules.decimalCommas = comma != ','
}

// separator returns what separates the names of the columns.
func separator(text []byte) rune {
	for line := range bytes.Lines(text) {
		if line = bytes.TrimSpace(line); len(line) == 0 || line[0] == '#' {
			continue
		}
		for _, other := range ";\t" {
			if bytes.ContainsRune(line, other) {
				return other
			}
		}
		break
	}
	return ','
}

// all reads all rows.
func (p *parser) all() error {
	for {
		record, err := p.in.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var wrong *csv.ParseError
		if errors.As(err, &wrong) { // what follows cannot be divided into rows
			p.mistakes = append(p.mistakes, Mistake{p.skipped + wrong.StartLine, "", quotation(wrong)})
			p.broken = true
			return nil
		}
		if err != nil {
			return err
		}
		line, _ := p.in.FieldPos(0)
		line += p.skipped
		for i := range record {
			record[i] = strings.TrimSpace(record[i])
		}
		switch {
		case !slices.ContainsFunc(record, func(s string) bool { return s != "" }):
		case p.head == nil:
			if p.head, err = parseHead(record); err != nil {
				return fmt.Errorf("line %d: %w", line, err)
			}
		default:
			if p.rows++; p.rows <= MaxRows {
				p.row(record, line)
			}
		}
	}
}

func quotation(err *csv.ParseError) string {
	if errors.Is(err, csv.ErrBareQuote) {
		return "there is a quotation mark inside of a field"
	}
	return "a quotation mark is not closed, or there is something behind a closing quotation mark"
}

// parseHead reads the names of the columns. Blanks and dashes in a name count as underscores.
func parseHead(record []string) (head []*column, err error) {
	holder := map[string]string{} // by canonical column: the name in the file
	for i, name := range record {
		key := strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(name))
		at := slices.IndexFunc(columns, func(c column) bool { return c.name == key })
		if at < 0 {
			if name == "" && i == len(record)-1 {
				continue // a spreadsheet may end each line with a separator
			}
			return nil, unknown(name, key, i+1)
		}
		c := &columns[at]
		holds := c.name
		if c.alias {
			holds = columns[at-1].name
		}
		if other := holder[holds]; other != "" {
			return nil, fmt.Errorf("the columns %s and %s hold the same", other, name)
		}
		holder[holds] = name
		head = append(head, c)
	}
	if holder["phone"] == "" {
		return nil, fmt.Errorf("there is no column phone; the first line must name the columns, such as %s", example)
	}
	return head, nil
}

func unknown(name, key string, number int) error {
	if name == "" {
		return fmt.Errorf("column %d has no name", number)
	}
	var names []string
	for _, c := range columns {
		if strings.HasPrefix(c.name, key+"_") && c.plot {
			return fmt.Errorf("there is no column %s; write %s, for instance", quote(name), c.name)
		}
		names = append(names, c.name)
	}
	return fmt.Errorf("there is no column %s; there are %s", quote(name), strings.Join(names, ", "))
}

// row reads one row, and adds it to its grower or its mistakes to the others.
func (p *parser) row(record []string, line int) {
	for len(record) > len(p.head) && record[len(record)-1] == "" {
		record = record[:len(record)-1]
	}
	if len(record) != len(p.head) {
		reason := fmt.Sprintf("%d fields for %d columns", len(record), len(p.head))
		if len(record) > len(p.head) && !p.rules.decimalCommas {
			reason += "; a text with a comma needs quotation marks, a number with a decimal comma needs semicolons"
		}
		p.wrong(line, "", reason)
		return
	}
	before := len(p.mistakes)
	phone := p.phone(record, line)
	row := Row{Line: line}
	var ofGrower []said
	for i, c := range p.head {
		text := Plain(record[i])
		switch {
		case text == "" || c.name == "phone":
			continue
		case c.name == "plot":
			n, err := readNo(text)
			if err != nil {
				p.wrong(line, c.name, err.Error())
			}
			row.About, row.No = true, n
			continue
		}
		s, err := p.cell(c, record[i])
		if err != nil {
			p.wrong(line, c.name, err.Error())
			continue
		}
		if c.plot {
			row.About, row.says = true, append(row.says, s)
		} else if p.agrees(phone, c.name, text, line) {
			ofGrower = append(ofGrower, s)
		}
	}
	v := row.Over(Values{})
	row.Label = v.Plot.Label
	if row.About && row.No == 0 && row.Label == "" {
		row.No = 1
	}
	if row.About {
		p.twice(phone, row)
	}
	if len(p.mistakes) == before {
		p.add(phone, row, ofGrower)
	}
}

func (p *parser) wrong(line int, column, reason string) {
	p.mistakes = append(p.mistakes, Mistake{line, column, reason})
}

// phone reads the number of a row; "" if it has none that can be used.
func (p *parser) phone(record []string, line int) string {
	i := slices.IndexFunc(p.head, func(c *column) bool { return c.name == "phone" })
	if record[i] == "" {
		p.wrong(line, "phone", "there is no number")
		return ""
	}
	number, err := readPhone(Plain(record[i]), &p.rules)
	if err != nil {
		p.wrong(line, "phone", err.Error())
	}
	return number
}

// cell reads a cell that is not empty. The word none, unless it was written by Defuse, takes the value out.
func (p *parser) cell(c *column, written string) (said, error) {
	if clears(written) {
		if c.clear == nil {
			return said{}, errors.New("this cannot be taken out of the records")
		}
		return said{c, c.clear}, nil
	}
	set, err := c.read(Plain(written), &p.rules)
	return said{c, set}, err
}

// agrees reports whether no earlier row says something else of the same grower. If it is said again, nothing is new.
func (p *parser) agrees(phone, name, text string, line int) bool {
	if phone == "" {
		return false
	}
	if p.first[phone] == nil {
		p.first[phone] = map[string]cell{}
	}
	was, said := p.first[phone][name]
	if said && was.text != text {
		p.wrong(line, name, fmt.Sprintf("another row of this number, on line %d, says something else", was.line))
	}
	if !said {
		p.first[phone][name] = cell{text, line}
	}
	return !said
}

// twice notes a mistake if an earlier row is about the same plot: it has the same number, or the same label and one of
// the two rows has no number.
func (p *parser) twice(phone string, row Row) {
	if p.first[phone] == nil {
		p.first[phone] = map[string]cell{}
	}
	first, number := p.first[phone], "plot "+strconv.Itoa(row.No)
	label := "label " + strings.ToLower(row.Label)
	was := first[number]
	if row.No == 0 {
		was = first[label]
	} else if same := first[label]; same.text == withoutNumber {
		was = same
	}
	if was.line != 0 {
		p.wrong(row.Line, "plot", fmt.Sprintf("this plot is already on line %d", was.line))
	}
	if row.No == 0 {
		first[label] = cell{withoutNumber, row.Line}
		return
	}
	first[number] = cell{line: row.Line}
	if row.Label != "" && first[label].line == 0 {
		first[label] = cell{line: row.Line}
	}
}

// withoutNumber is the text of a cell in parser.first for a row about a plot that has only a label.
const withoutNumber = "without number"

func (p *parser) add(phone string, row Row, ofGrower []said) {
	i, known := p.at[phone]
	if !known {
		i = len(p.growers)
		p.at[phone] = i
		p.growers = append(p.growers, Grower{Line: row.Line, Phone: phone})
	}
	g := &p.growers[i]
	g.says, g.Rows = append(g.says, ofGrower...), append(g.Rows, row)
}
