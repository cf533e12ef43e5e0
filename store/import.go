package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"rowbell/store/growercsv"
)

// MaxImportChanges is how many growers who are in the records already may change in one import. Each is locked on a
// server, which has room for some thousand locks.
const MaxImportChanges = 2000

// importPage is how many growers are compared with the records at once.
const importPage = 200

// These errors are reasons to take nothing of an import.
var (
	ErrImportRefused = errors.New("rows are refused, so nothing was written")
	ErrImportDiffers = errors.New("the records have changed since the file was checked, so nothing was written")
	ErrImportLarge   = fmt.Errorf("more than %d growers of the records would change: divide the file", MaxImportChanges)
)

// Import is a file of growers and plots that somebody wants in the records.
type Import struct {
	Growers []growercsv.Grower
	Place   string     // of new growers for whom the file names none; "" = the file must name it
	Scope   Scope      // the places whose growers may be added and changed
	By      TrailEntry // At, StaffID and Who of the entries in the trail
	File    string     // name of the file, for the trail
	// Step is called before each page with the number of growers that were compared; nil = not at all.
	Step func(done, total int)
}

// FateKind is what an import does with a row.
type FateKind string

const (
	FateNew     FateKind = "new"     // a grower or a plot is added
	FateChanged FateKind = "changed" // values change
	FateSame    FateKind = "same"    // the records have all of it
	FateRefused FateKind = "refused" // the row cannot be taken, so nothing of the file is
)

// Fate is what an import does with one row of the file.
type Fate struct {
	Line      int
	Kind      FateKind
	Phone     Phone
	NewGrower bool
	Plot      int  // number of the plot; 0: the row is about the grower alone
	NewPlot   bool // the plot is added
	Again     bool // the plot of the season before is closed for it
	Stopped   bool // the number wants no texts, and gets none
	Changes   []growercsv.Change
	Reason    string // why the row is refused, in words for people
	Note      string // what else must be known; "" = nothing
}

// String returns the fate in words, without the number.
func (f Fate) String() string {
	var words []string
	if f.NewGrower {
		words = append(words, "new grower")
	}
	switch {
	case f.Kind == FateRefused:
		return "refused: " + f.Reason
	case f.Again:
		words = append(words, fmt.Sprintf("new season on plot %d", f.Plot))
	case f.NewPlot:
		words = append(words, fmt.Sprintf("new plot %d", f.Plot))
	}
	var changes []string
	for _, c := range f.Changes {
		changes = append(changes, changeWords(c))
	}
	if len(changes) > 0 && !f.NewGrower && !f.NewPlot {
		words = append(words, "changed: "+strings.Join(changes, ", "))
	}
	if len(words) == 0 {
		words = append(words, "same as in the records")
	}
	if f.Stopped {
		words = append(words, "wants no texts and gets none")
	}
	if f.Note != "" {
		words = append(words, f.Note)
	}
	return strings.Join(words, "; ")
}

func changeWords(c growercsv.Change) string {
	switch {
	case c.From == "":
		return c.Column + " " + c.To
	case c.To == "":
		return c.Column + " " + c.From + " is taken out"
	}
	return c.Column + " from " + c.From + " to " + c.To
}

// Fates is what an import does with each row, in the order of the file.
type Fates []Fate

// Count returns how many rows have this fate.
func (l Fates) Count(kind FateKind) (n int) {
	for i := range l {
		if l[i].Kind == kind {
			n++
		}
	}
	return n
}

// String counts the rows of each fate.
func (l Fates) String() string {
	growers, plots, stopped := 0, 0, 0
	seen := map[Phone]bool{}
	for _, f := range l {
		if f.NewGrower {
			growers++
		}
		if f.NewPlot {
			plots++
		}
		if f.Stopped && !seen[f.Phone] {
			stopped++
			seen[f.Phone] = true
		}
	}
	s := fmt.Sprintf("new growers: %d; new plots: %d; rows changed: %d; same: %d; refused: %d", growers, plots,
		l.Count(FateChanged), l.Count(FateSame), l.Count(FateRefused))
	if stopped > 0 {
		s += fmt.Sprintf("; growers who want no texts: %d", stopped)
	}
	return s
}

// Digest tells whether two lists of fates are the same.
func (l Fates) Digest() string {
	h := sha256.New()
	for _, f := range l {
		fmt.Fprintf(h, "%d\n%s\n%s\n%s\n", f.Line, f.Kind, f.Phone.E164(), f)
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// CheckImport returns what TakeImport would do with each row at the instant now. It reads in pages, so that it holds up
// nobody.
func (s *Store) CheckImport(ctx context.Context, im Import, now int64) (Fates, error) {
	_, list, err := s.planImport(ctx, im, now)
	return list, fail("check import", err)
}

// planImport plans an import, page by page.
func (s *Store) planImport(ctx context.Context, im Import, now int64) (plans []importPlan, list Fates, err error) {
	for at := 0; at < len(im.Growers); at += importPage {
		if im.Step != nil {
			im.Step(at, len(im.Growers))
		}
		page := im.Growers[at:min(at+importPage, len(im.Growers))]
		err := s.View(ctx, func(tx *Tx) error {
			more, err := tx.planImport(im, page, now)
			plans = append(plans, more...)
			return err
		})
		if err != nil {
			return nil, nil, err
		}
	}
	return plans, fatesOf(plans), nil
}

// TakeImport writes a file into the records: all of it or, if any row is refused, nothing. Then the error is
// ErrImportRefused and the fates say why. If the records change again and again meanwhile, it is ErrImportMoved. If
// seen is not "", it is the Digest of the fates that somebody agreed to: if they differ, nothing is written, and the
// error is ErrImportDiffers.
//
// All is written in one transaction. In a file phone calls wait meanwhile, so growercsv.MaxRows bounds it, and all that
// can be read before is read before.
func (s *Store) TakeImport(ctx context.Context, im Import, seen string, now int64) (Fates, error) {
	const tries = 3
	var moved error
	for range tries {
		plans, list, err := s.planImport(ctx, im, now)
		switch {
		case err != nil:
			return nil, fail("take import", err)
		case list.Count(FateRefused) > 0:
			return list, ErrImportRefused
		case seen != "" && list.Digest() != seen:
			return list, ErrImportDiffers
		}
		moved = s.InTx(ctx, func(tx *Tx) error { return tx.takeImport(im, plans, now) })
		if !errors.Is(moved, ErrImportMoved) {
			return list, fail("take import", moved)
		}
	}
	return nil, fail("take import", moved)
}

// ErrImportMoved means that what the import is about was changed while it was planned. Another try sees the change.
var ErrImportMoved = errors.New("the records of the file's growers are changing; try again")
