package store

import "rowbell/engine"

// Weather is that of the grower's place.
func (l *Ledger) Weather() (engine.Weather, error) {
	daily, err := l.place.measured(l.tx)
	if err != nil {
		return engine.Weather{}, fail("weather", err)
	}
	return engine.Weather{Normals: l.place.Normals, LatitudeDeg: l.place.Latitude, Daily: daily}, nil
}

// Places are the names of all places, and which of them is the grower's.
func (l *Ledger) Places() (names []string, own int, err error) {
	places, err := l.tx.readyPlaces()
	if err != nil {
		return nil, 0, fail("places", err)
	}
	for i, p := range places {
		names = append(names, p.Name)
		if p.ID == l.place.ID {
			own = i
		}
	}
	return names, own, nil
}

const (
	sqlPlaceNamed = `SELECT ` + placeColumns + ` FROM place pl WHERE pl.name = ` + asText
	sqlMove       = `UPDATE grower SET place_id = $1 WHERE id = $2`
)

// SetPlace moves the grower to the place of this name: other weather, other
// mornings, other prices. Every plot is looked at anew; days that were told
// stay until a text moves them. ErrNoPlace for a name
// that is none.
func (l *Ledger) SetPlace(name string) error {
	if !l.Known() {
		return ErrUnknown
	}
	var row placeRow
	ok, err := l.tx.one(sqlPlaceNamed, args(name), row.into()...)
	switch {
	case err != nil:
		return fail("set place", err)
	case !ok:
		return ErrNoPlace
	}
	place, err := l.tx.s.places.place(row)
	if err != nil {
		return err
	}
	if err := l.do(sqlMove, place.ID, l.id); err != nil {
		return fail("set place", err)
	}
	l.place = place
	plots, err := l.open()
	for i := range plots {
		if err == nil {
			err = l.changed(&plots[i], false)
		}
	}
	return fail("set place", err)
}
