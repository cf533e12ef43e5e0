package season

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	_ "github.com/mattn/go-sqlite3" // the driver "sqlite3"
)

// Size is how large the file is and how large it must be by the number of its rows.
type Size struct {
	Growers  int64 `json:"growers"`
	Plots    int64 `json:"plots"`
	Texts    int64 `json:"texts"`
	Replies  int64 `json:"replies"`
	File     int64 `json:"file"`
	Free     int64 `json:"free"` // of the file: pages of what was deleted, which new rows take first
	Computed int64 `json:"computed"`
}

// Octets in the file for a row, by the page of the manual about sizes. The octets of a plot are with its passes,
// sightings and what was told.
const (
	octetsEmpty  = 570_000 // tables and indexes without rows
	octetsGrower = 190
	octetsPlot   = 190
	octetsText   = 370
	octetsReply  = 350
)

// sizeDiffers is by which share the file may be larger or smaller than computed.
const sizeDiffers = 0.2

// Fits reports whether the file is as large as computed.
func (s Size) Fits() bool {
	used := float64(s.File - s.Free)
	return used <= (1+sizeDiffers)*float64(s.Computed) && used >= (1-sizeDiffers)*float64(s.Computed)
}

// sizeOf counts the rows of records that no process uses, and looks at the outbox: a network took every text.
func sizeOf(ctx context.Context, path string, found *findings) (s Size, err error) {
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err != nil {
		return s, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var pages, free, octets int64
	for query, to := range map[string]*int64{
		"SELECT count(*) FROM grower": &s.Growers, "SELECT count(*) FROM plot": &s.Plots,
		"SELECT count(*) FROM message": &s.Texts, "SELECT count(*) FROM callback": &s.Replies,
		"PRAGMA page_count": &pages, "PRAGMA freelist_count": &free, "PRAGMA page_size": &octets,
	} {
		if err := db.QueryRowContext(ctx, query).Scan(to); err != nil {
			return s, fmt.Errorf("%s: %w", query, err)
		}
	}
	s.File, s.Free = pages*octets, free*octets
	s.Computed = octetsEmpty + octetsGrower*s.Growers + octetsPlot*s.Plots + octetsText*s.Texts + octetsReply*s.Replies
	var stuck int64
	err = db.QueryRowContext(ctx, "SELECT count(*) FROM message WHERE state <> 'delivered'").Scan(&stuck)
	if stuck > 0 {
		found.add("%d texts of the outbox are not delivered", stuck)
	}
	return s, err
}
