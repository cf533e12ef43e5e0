package store

import (
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"rowbell/store/recordfile"
)

// A table as both databases have it. The rows of all tables are what is copied from one database to another, and what a
// record file holds.
type table struct {
	recordfile.Table
	key   []string // columns of the order of the rows, which both databases keep octet by octet
	where string   // condition for the rows that belong to the records, and not to the database; "" for all
}

// transferred lists the tables in an order in which a row names only rows of earlier tables. Which columns they have is
// read from the database.
var transferred = []table{
	tableOf("place", "id"),
	tableOf("weather", "place_id", "day"),
	tableOf("staff", "id"),
	tableOf("staff_place", "staff_id", "place_id"),
	tableOf("staff_link", "hash"),
	tableOf("place_look", "place_id"),
	tableOf("consent_text", "version"),
	tableOf("grower", "id"),
	tableOf("plot", "id"),
	tableOf("pass", "plot_id", "day", "seq"),
	tableOf("sighting", "plot_id", "day", "seq"),
	tableOf("told", "plot_id", "window_no", "edition", "kind"),
	tableOf("correction", "id"),
	tableOf("trial", "id"),
	tableOf("trouble", "grower_id"),
	tableOf("contact", "id"),
	tableOf("trail", "id"),
	tableOf("letter", "id"),
	tableOf("letter_place", "letter_id", "place_id"),
	tableOf("message", "id"),
	tableOf("message_plot", "plot_id", "message_id"),
	tableOf("consent", "id"),
	tableOf("circle", "id"),
	tableOf("circle_member", "id"),
	tableOf("circle_tool", "id"),
	tableOf("circle_turn", "tool_id", "day"),
	tableOf("circle_wish", "plot_id", "window_no"),
	tableOf("circle_told", "plot_id"),
	tableOf("circle_ask", "id"),
	tableOf("circle_entry", "id"),
	tableOf("session", "phone", "channel"),
	tableOf("prompt", "phone"),
	tableOf("callback", "phone", "gateway", "key"),
	tableOf("spend", "scope", "day"),
	tableOf("opt_out", "hash"),
	tableOf("move_code", "hash"),
	tableOf("move_try", "hash"),
	tableOf("move_wrong", "day"),
	tableOf("exchange", "phone"),
	tableOf("early_receipt", "gateway", "network_id"),
	tableOf("lease", "name"),
	tableOf("report_field", "place_id", "what", "month", "week"),
	tableOf("report_text", "place_id", "week", "kind"),
	{Table: recordfile.Table{Name: "meta"}, key: []string{"key"},
		where: `key NOT IN ('application', '` + metaOldest + `') AND (key < 'copy: ' OR key >= 'copy:!')`},
}

// leftBehind lists the tables that belong to one database, with the reason.
var leftBehind = map[string]string{
	"process":         "the running services, which know only the database that they have open",
	"staff_session":   "who used the desk logs in again",
	"attention":       "computed from other tables, and computed again at once",
	"attention_due":   "as attention",
	"attention_place": "as attention",
	versionTable:      "the schema of the database itself",
}

// fileOnlyColumns lists columns that only SQLite has: a row id that nothing names.
var fileOnlyColumns = []string{"callback.id"}

func tableOf(name string, key ...string) table {
	return table{Table: recordfile.Table{Name: name}, key: key}
}

const (
	sqlColumns = `SELECT name, lower(type) FROM pragma_table_info($1) ORDER BY name`
	pgColumns  = `SELECT column_name, data_type FROM information_schema.columns
	WHERE table_schema = current_schema() AND table_name = $1 ORDER BY column_name`
)

// kinds are the kinds of columns by the names that the databases give their types.
var kinds = map[string]recordfile.Kind{
	"integer": recordfile.Integer, "real": recordfile.Real, "text": recordfile.Text, "blob": recordfile.Blob,
	"bigint": recordfile.Integer, "double precision": recordfile.Real, "bytea": recordfile.Blob,
}

// tables returns the transferred tables with their columns, which are in the order of their names.
func (tx *Tx) tables() ([]table, error) {
	all := slices.Clone(transferred)
	for i, t := range all {
		err := tx.each(sqlColumns, args(t.Name), func(scan func(...any) error) error {
			var name, typ string
			if err := scan(&name, &typ); err != nil || slices.Contains(fileOnlyColumns, t.Name+"."+name) {
				return err
			}
			kind, known := kinds[typ]
			if !known {
				return fmt.Errorf("the column %s of %s has the type %s", name, t.Name, typ)
			}
			all[i].Columns = append(all[i].Columns, recordfile.Column{Name: name, Kind: kind})
			return nil
		})
		if err != nil {
			return nil, fail("tables", err)
		}
	}
	return slices.DeleteFunc(all, func(t table) bool { return len(t.Columns) == 0 }), nil // of a later schema
}

func (t table) names() []string {
	list := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		list[i] = c.Name
	}
	return list
}

// placeholders returns $1, $2 and so on, n in all, the first with this number.
func placeholders(first, n int) string {
	list := make([]string, n)
	for i := range list {
		list[i] = fmt.Sprint("$", first+i)
	}
	return strings.Join(list, ", ")
}

// page returns the rows that follow the key after, at most limit. Without a key it returns the first rows.
func (tx *Tx) page(t table, after []any, limit int) (rows [][]any, err error) {
	var conditions []string
	if t.where != "" {
		conditions = append(conditions, "("+t.where+")")
	}
	if len(after) > 0 {
		conditions = append(conditions, "("+strings.Join(t.key, ", ")+") > ("+placeholders(1, len(after))+")")
	}
	query := "SELECT " + strings.Join(t.names(), ", ") + " FROM " + t.Name
	if len(conditions) > 0 {
		query += " WHERE " + strings.Join(conditions, " AND ")
	}
	query += fmt.Sprintf(" ORDER BY %s LIMIT %d", strings.Join(t.key, ", "), limit)
	err = tx.each(query, after, func(scan func(...any) error) error {
		row := make([]any, len(t.Columns))
		into := make([]any, len(row))
		for i := range row {
			into[i] = &row[i]
		}
		err := scan(into...)
		for i := 0; i < len(row) && err == nil; i++ {
			row[i], err = asKind(t.Columns[i], row[i])
		}
		rows = append(rows, row)
		return err
	})
	if err != nil {
		err = fmt.Errorf("table %s: %w", t.Name, err)
	}
	return rows, err
}

// asKind returns a value in the one form that both databases have of it. SQLite stores no negative zero, and PostgreSQL
// no NUL and no octets in text that are no UTF-8.
func asKind(c recordfile.Column, v any) (any, error) {
	switch x := v.(type) {
	case nil:
		return nil, nil
	case int64:
		if c.Kind == recordfile.Integer {
			return x, nil
		}
	case float64:
		if c.Kind == recordfile.Real {
			return x + 0, nil // -0 + 0 is 0
		}
	case string:
		if c.Kind == recordfile.Text {
			return pgText(x), nil
		}
	case []byte:
		if c.Kind == recordfile.Blob {
			return x, nil
		}
	}
	return nil, fmt.Errorf("the column %s has a value of the type %T", c.Name, v)
}

// keyOf returns the key of a row.
func (t table) keyOf(row []any) []any {
	key := make([]any, len(t.key))
	for i, name := range t.key {
		key[i] = row[slices.Index(t.names(), name)]
	}
	return key
}

// insertRows adds rows to a table.
func (tx *Tx) insertRows(t table, rows [][]any) error {
	if len(rows) == 0 {
		return nil
	}
	if tx.pg != nil {
		if err := tx.flush(); err != nil {
			return err
		}
		return tx.conn.Raw(func(c any) error {
			_, err := c.(*stdlib.Conn).Conn().CopyFrom(tx.ctx, pgx.Identifier{t.Name}, t.names(),
				pgx.CopyFromRows(rows))
			return err
		})
	}
	query := "INSERT INTO " + t.Name + " (" + strings.Join(t.names(), ", ") + ") VALUES (" +
		placeholders(1, len(t.Columns)) + ")"
	tx.note(query)
	return tx.conn.Raw(func(c any) error { // one statement for all rows
		stmt, err := c.(driver.ConnPrepareContext).PrepareContext(tx.ctx, query)
		if err != nil {
			return err
		}
		defer stmt.Close()
		values := make([]driver.NamedValue, len(t.Columns))
		for _, row := range rows {
			for i, v := range row {
				values[i] = driver.NamedValue{Ordinal: i + 1, Value: v}
			}
			if _, err := stmt.(driver.StmtExecContext).ExecContext(tx.ctx, values); err != nil {
				return err
			}
		}
		return nil
	})
}

// rowsOfPage is how many rows are in memory.
const rowsOfPage = 2000

// eachRow calls visit for all rows of a table in the order of its key.
func (tx *Tx) eachRow(t table, visit func(row []any) error) error {
	for after := []any(nil); ; {
		rows, err := tx.page(t, after, rowsOfPage)
		if err != nil {
			return err
		}
		for _, row := range rows {
			if err := visit(row); err != nil {
				return err
			}
		}
		if len(rows) < rowsOfPage {
			return nil
		}
		after = t.keyOf(rows[len(rows)-1])
	}
}

// sums returns the count and the checksum of each table. The function read is called for each row.
func (tx *Tx) sums(read func()) (list []recordfile.Sum, err error) {
	tables, err := tx.tables()
	if err != nil {
		return nil, err
	}
	var row []byte
	for _, t := range tables {
		sum := recordfile.NewSummer()
		err := tx.eachRow(t, func(values []any) error {
			row = recordfile.AppendRow(row[:0], values)
			sum.Add(row)
			read()
			return tx.ctx.Err()
		})
		if err != nil {
			return nil, fail("sums", err)
		}
		list = append(list, sum.Sum(t.Name))
	}
	return list, nil
}

const pgMayIdle = `SET LOCAL idle_in_transaction_session_timeout = 0`

// mayIdle lets a server wait while this program does something else with what it has read.
func (tx *Tx) mayIdle() error {
	if tx.pg == nil {
		return nil
	}
	return tx.do(pgMayIdle)
}
