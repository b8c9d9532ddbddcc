package web

// rowsAtOnce is how many rows of a long table a page shows.
const rowsAtOnce = 100

// part is the part of a long table that a page shows.
type part struct {
	From, To, Of  int    // rows, from 1; 0 without any
	Before, After string // the addresses of the parts beside it
}

// part is the part of so many rows that the query asks for; at is the address of another one.
func (q *request) part(rows int, at func(part string) string) part {
	number := min(q.number("part"), max(1, (rows+rowsAtOnce-1)/rowsAtOnce))
	from := (number - 1) * rowsAtOnce
	p := part{From: min(from+1, rows), To: min(from+rowsAtOnce, rows), Of: rows}
	if number > 1 {
		p.Before = at(decimal(number - 1))
	}
	if p.To < rows {
		p.After = at(decimal(number + 1))
	}
	return p
}

// partOf is a part of rows.
func partOf[R any](rows []R, p part) []R {
	if len(rows) == 0 {
		return rows
	}
	return rows[p.From-1 : p.To]
}
