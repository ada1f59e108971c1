package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"earstone/store/history"
)

// Cells hands over some fields of every record of a kind: see history.Store. The payload
// is taken apart within SQLite, which is a fifth of the work of reading whole records.
func (s *Store) Cells(ctx context.Context, kind history.Kind, fields []string, each func(written time.Time, cells []string) error) (at int64, err error) {
	at, err = s.cells(ctx, kind, fields, each)
	if err != nil {
		return 0, fmt.Errorf("reading %s of %s: %w", strings.Join(fields, ", "), kind, told(err))
	}
	return at, nil
}

func (s *Store) cells(ctx context.Context, kind history.Kind, fields []string, each func(time.Time, []string) error) (at int64, err error) {
	tx, err := s.readers.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return 0, err
	}
	defer tx.Rollback() // it only read
	if err := tx.QueryRowContext(ctx, "SELECT COALESCE(MAX(position), 0) FROM journal").Scan(&at); err != nil {
		return 0, err
	}
	var args []any
	for _, name := range fields {
		args = append(args, `$.fields."`+name+`"`)
	}
	args = append(args, string(kind))
	rows, err := tx.QueryContext(ctx, `
		SELECT j.written_at`+strings.Repeat(", COALESCE(j.payload ->> ?, '')", len(fields))+`
		FROM current AS c JOIN journal AS j ON j.position = c.head
		WHERE c.kind = ? AND c.heads > 0`, args...)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	var written int64
	cells := make([]string, len(fields))
	to := []any{&written}
	for i := range cells {
		to = append(to, &cells[i])
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return 0, err
		}
		if err := each(time.UnixMicro(written).UTC(), cells); err != nil {
			return 0, err
		}
	}
	return at, rows.Err()
}
