package desk

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strconv"

	"rowbell/store/growercsv"
)

// csv answers with a file of a head and rows (RFC 4180). Programs that open tables would calculate a cell that begins
// like a formula; such a cell gets an apostrophe before it (OWASP, CSV Injection), unless it is a number.
func (r *request) csv(name string, head []string, rows [][]string) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	for _, row := range append([][]string{head}, rows...) {
		safe := make([]string, len(row))
		for i, c := range row {
			safe[i] = defused(c)
		}
		if err := w.Write(safe); err != nil {
			return err
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	r.done = true
	h := r.w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	r.w.WriteHeader(http.StatusOK)
	_, _ = r.w.Write(b.Bytes()) // the browser may have hung up
	return nil
}

// defused returns a cell that no program takes for a formula.
func defused(c string) string {
	if _, err := strconv.ParseFloat(c, 64); !growercsv.Formula(c) || err == nil && c[0] == '-' {
		return c
	}
	return "'" + c
}
