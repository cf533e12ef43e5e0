package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Role is what a member of staff may do.
type Role int

// The roles. Each may do what the ones before it may, and more.
const (
	RoleViewer      Role = iota + 1 // sees counts and masked numbers
	RoleFieldWorker                 // looks after the growers of some places
	RoleOperator                    // may do everything, at all places
)

// Roles are all roles.
var Roles = []Role{RoleViewer, RoleFieldWorker, RoleOperator}

func (r Role) String() string {
	switch r {
	case RoleViewer:
		return "viewer"
	case RoleFieldWorker:
		return "field worker"
	case RoleOperator:
		return "operator"
	}
	return fmt.Sprintf("role %d", int(r))
}

// ParseRole reads the name of a role; hyphens may stand for spaces.
func ParseRole(s string) (Role, error) {
	name := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), "-", " ")
	for _, r := range Roles {
		if r.String() == name {
			return r, nil
		}
	}
	return 0, fmt.Errorf("%q is no role: write viewer, field-worker or operator", s)
}

// Scope is the ids of the places whose records somebody may see. Queries for staff take a Scope and return nothing of
// other places. An empty Scope selects nothing.
type Scope []int64

// Has reports whether the place with this id is in the scope.
func (s Scope) Has(placeID int64) bool { return slices.Contains(s, placeID) }

// Staff is the account of somebody who uses the desk.
type Staff struct {
	ID          int64
	Name        string // to log in with
	Role        Role
	Phone       Phone // "" if not given
	Places      Scope // of a field worker or viewer; an operator has all places, and none are listed
	Password    string
	Wrong       int   // wrong passwords in a row
	LockedUntil int64 // no password is checked before
	CreatedAt   int64
}

// Errors of accounts.
var (
	ErrStaffName    = errors.New("this name is taken")
	ErrNoStaff      = errors.New("there is no such account")
	ErrLastOperator = errors.New("this is the last operator: give somebody else the role first")
)

const staffColumns = `s.id, s.name, s.role, s.phone, s.password, s.wrong, s.locked_until, s.created_at`

const (
	sqlAddStaff = `INSERT INTO staff (name, role, phone, created_at) VALUES ($1, $2, $3, $4)
	ON CONFLICT (name) DO NOTHING`
	sqlSetStaff = `UPDATE staff SET role = $1, phone = $2 WHERE id = $3 AND ended_at IS NULL`
	sqlEndStaff = `UPDATE staff SET ended_at = $1, password = '', phone = '', name = '#' || id
	WHERE id = $2 AND ended_at IS NULL`
	sqlStaff       = `SELECT ` + staffColumns + ` FROM staff s WHERE s.ended_at IS NULL ORDER BY s.name`
	sqlStaffByID   = `SELECT ` + staffColumns + ` FROM staff s WHERE s.id = ` + asID + ` AND s.ended_at IS NULL`
	sqlStaffByName = `SELECT ` + staffColumns + ` FROM staff s WHERE s.name = ` + asText + ` AND s.ended_at IS NULL`
	sqlStaffPlaces = `SELECT p.staff_id, p.place_id FROM staff_place p JOIN staff s ON s.id = p.staff_id
	WHERE s.ended_at IS NULL ORDER BY p.staff_id, p.place_id`
	sqlPlacesOfStaff = `SELECT place_id FROM staff_place WHERE staff_id = ` + asID + ` ORDER BY place_id`
	sqlDropPlaces    = `DELETE FROM staff_place WHERE staff_id = $1`
	sqlAddPlace      = `INSERT INTO staff_place (staff_id, place_id) VALUES ($1, $2)`
	sqlOperators     = `SELECT count(*) FROM staff WHERE role = 3 AND ended_at IS NULL AND id <> $1`
	sqlPlaceIDs      = `SELECT id FROM place ORDER BY id`
	sqlSetPassword   = `UPDATE staff SET password = $1, wrong = 0, locked_until = 0 WHERE id = $2`
	sqlWrong         = `UPDATE staff SET wrong = $1, locked_until = $2 WHERE id = $3`
)

const lockStaff = "staff" // the lock of the list of accounts

func (s *Staff) into() []any {
	return args(&s.ID, &s.Name, &s.Role, &s.Phone, &s.Password, &s.Wrong, &s.LockedUntil, &s.CreatedAt)
}

// check returns an error if an account cannot be stored.
func (s *Staff) check() error {
	switch {
	case strings.HasPrefix(s.Name, "#"):
		return fmt.Errorf("the name %q begins with #", s.Name)
	case s.Name == "" || strings.TrimSpace(s.Name) != s.Name || len(s.Name) > 60:
		return fmt.Errorf("the name %q is empty, too long or begins or ends with a space", s.Name)
	case !slices.Contains(Roles, s.Role):
		return fmt.Errorf("%s is unknown", s.Role)
	case s.Role != RoleOperator && len(s.Places) == 0:
		return fmt.Errorf("a %s needs at least one place", s.Role)
	}
	return nil
}

// AddStaff makes an account without a password and returns its id: see AddLink. It returns ErrStaffName for a name that
// another account has.
func (tx *Tx) AddStaff(s Staff, now int64) (id int64, err error) {
	if err := s.check(); err != nil {
		return 0, err
	}
	if err := tx.lock(lockStaff); err != nil {
		return 0, fail("add staff", err)
	}
	id, fresh, err := tx.insert(sqlAddStaff, s.Name, s.Role, s.Phone.E164(), now)
	switch {
	case err != nil:
		return 0, fail("add staff", err)
	case !fresh:
		return 0, ErrStaffName
	}
	return id, fail("add staff", tx.setPlaces(id, s))
}

func (tx *Tx) setPlaces(id int64, s Staff) error {
	err := tx.do(sqlDropPlaces, id)
	if s.Role == RoleOperator {
		return err
	}
	for _, p := range slices.Compact(slices.Sorted(slices.Values(s.Places))) {
		if err == nil {
			err = tx.do(sqlAddPlace, id, p)
		}
	}
	return err
}

// SetStaff changes role, phone and places of an account. Its sessions go on; each request reads the role and the places
// anew. The last operator stays one: ErrLastOperator.
func (tx *Tx) SetStaff(s Staff) error {
	if err := s.check(); err != nil {
		return err
	}
	was, err := tx.lockedStaff(s.ID)
	if err != nil {
		return err
	}
	if was.Role == RoleOperator && s.Role != RoleOperator {
		if err := tx.otherOperator(s.ID); err != nil {
			return err
		}
	}
	return fail("set staff", errors.Join(tx.do(sqlSetStaff, s.Role, s.Phone.E164(), s.ID), tx.setPlaces(s.ID, s)))
}

// lockedStaff returns an account which nobody else changes until the transaction ends.
func (tx *Tx) lockedStaff(id int64) (Staff, error) {
	if err := tx.lock(lockStaff); err != nil {
		return Staff{}, fail("staff", err)
	}
	s, known, err := tx.StaffByID(id)
	if err == nil && !known {
		err = ErrNoStaff
	}
	return s, err
}

func (tx *Tx) otherOperator(id int64) error {
	var n int64
	if _, err := tx.one(sqlOperators, args(id), &n); err != nil {
		return fail("operators", err)
	}
	if n == 0 {
		return ErrLastOperator
	}
	return nil
}

// EndStaff ends an account with its sessions and links. Its name stays in the trail. The last operator cannot be ended:
// ErrLastOperator.
func (tx *Tx) EndStaff(id, now int64) error {
	s, err := tx.lockedStaff(id)
	if err == nil && s.Role == RoleOperator {
		err = tx.otherOperator(id)
	}
	if err != nil {
		return err
	}
	return fail("end staff", errors.Join(tx.do(sqlEndStaff, now, id), tx.do(sqlDropPlaces, id),
		tx.EndSessions(id, ""), tx.do(sqlDropLinks, id)))
}

// StaffList returns all accounts, ordered by name.
func (tx *Tx) StaffList() ([]Staff, error) {
	list, err := rows(tx, sqlStaff, nil, (*Staff).into)
	if err != nil {
		return nil, fail("staff", err)
	}
	places, err := grouped(tx, sqlStaffPlaces, nil, func(id *int64) []any { return args(id) })
	for i := range list {
		list[i].Places = places[list[i].ID]
	}
	return list, fail("staff", err)
}

// StaffByID returns an account; false if there is none, or it has ended.
func (tx *Tx) StaffByID(id int64) (Staff, bool, error) { return tx.oneStaff(sqlStaffByID, id) }

// StaffByName returns an account; false if there is none.
func (tx *Tx) StaffByName(name string) (Staff, bool, error) { return tx.oneStaff(sqlStaffByName, name) }

// StaffToLogIn is StaffByName for an account that no other log-in reads until the transaction ends.
func (tx *Tx) StaffToLogIn(name string) (Staff, bool, error) {
	if err := tx.lock(lockStaff); err != nil {
		return Staff{}, false, fail("staff", err)
	}
	return tx.StaffByName(name)
}

func (tx *Tx) oneStaff(query string, by any) (s Staff, known bool, err error) {
	known, err = tx.one(query, args(by), s.into()...)
	if err == nil && known {
		s.Places, err = column[int64](tx, sqlPlacesOfStaff, args(s.ID))
	}
	return s, known, fail("staff", err)
}

// Scope returns the places whose records somebody may see.
func (tx *Tx) Scope(s Staff) (Scope, error) {
	if s.Role != RoleOperator {
		return s.Places, nil
	}
	all, err := column[int64](tx, sqlPlaceIDs, nil)
	return all, fail("scope", err)
}

// SetPassword stores the hash of a new password. It ends all sessions and links of the account.
func (tx *Tx) SetPassword(id int64, hash string) error {
	return fail("set password", errors.Join(tx.do(sqlSetPassword, hash, id), tx.EndSessions(id, ""),
		tx.do(sqlDropLinks, id)))
}

// WrongPasswords stores how many wrong passwords in a row there were, and until when no more are checked.
func (tx *Tx) WrongPasswords(id int64, wrong int, until int64) error {
	return fail("wrong password", tx.do(sqlWrong, wrong, until, id))
}
