// Package letter writes letters: one text from staff to many growers. It puts the texts in the outbox a slice at a
// time, as background work, so that no callback waits for a letter to a hundred thousand growers.
//
//	w := letter.New(letter.Options{Store: s, Clock: c, Log: log, Queued: sender.Kick})
//	go w.Run(ctx)
//
// The package decides neither what a letter says nor who gets it: staff do, and the store applies STOP and the caps. It
// sends no text (package push does). How far a letter has come is stored with each slice, so a letter goes on after a
// crash, and nobody gets it twice.
package letter

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/store"
)

// Options configure a Writer. Store and Clock must be set.
type Options struct {
	Store  *store.Store
	Clock  clock.Clock
	Log    zerolog.Logger
	Queued func() // called after texts were written to the outbox; may be nil
}

// Writer writes the letters that are due.
type Writer struct{ o Options }

// New returns a writer. It writes nothing until Run or Write is called.
func New(o Options) *Writer {
	if o.Store == nil || o.Clock == nil {
		panic("letter: New needs a Store and a Clock")
	}
	if o.Queued == nil {
		o.Queued = func() {}
	}
	return &Writer{o}
}

const (
	// every is the time between two looks for letters. With store.LetterWaits texts at once, a letter goes out at most
	// at sixty texts a second, which is more than most networks take.
	every = 5 * time.Second
	// maxParts is how many parts of letters, each at one place, one look writes.
	maxParts = 100
)

// Run calls Write every five seconds until ctx ends. Of several failures in a row Run logs the first, and later the
// recovery.
func (w *Writer) Run(ctx context.Context) {
	ticks, stop := w.o.Clock.Every(every)
	defer stop()
	failing := false
	for {
		switch _, err := w.Write(ctx, w.o.Clock.Now()); {
		case err != nil && ctx.Err() == nil && !failing:
			failing = true
			w.o.Log.Error().Err(err).Str("why", store.Advice(err)).
				Msg("letters: texts to many cannot be written; trying again every five seconds")
		case err == nil && failing:
			failing = false
			w.o.Log.Info().Msg("letters: work again")
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

// Write writes what may be written now of the letters that are due, and returns how many texts it wrote. A part that
// fails does not hold up the others.
func (w *Writer) Write(ctx context.Context, now time.Time) (texts int64, err error) {
	var parts []store.LetterPart
	err = w.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		parts, err = tx.DueLetters(now.Unix(), maxParts)
		return err
	})
	for _, p := range parts {
		n, failed := w.writePart(ctx, p, now.Unix())
		texts += n
		if failed != nil {
			err = errors.Join(err, fmt.Errorf("letter %d: %w", p.Letter, failed))
		}
		if ctx.Err() != nil {
			break
		}
	}
	return texts, err
}

func (w *Writer) writePart(ctx context.Context, p store.LetterPart, now int64) (texts int64, err error) {
	err = w.o.Store.Background(ctx, func(tx *store.Tx) (bool, error) {
		n, done, err := tx.WriteLetter(p, now, w.o.Store.RoundsAtOnce())
		tx.Kept(func() { texts += n })
		return done, err
	})
	if texts > 0 {
		w.o.Queued()
	}
	return texts, err
}
