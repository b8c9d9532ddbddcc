package sheet

import (
	"slices"
	"strings"

	"wane/study"
)

// Correction is a row of a table of corrections: the key of a row of the study, and some of its cells.
type Correction[T any] struct {
	Line[T]          // of which only the key is filled
	Given   []string // the columns that the table has besides the key, as it calls them
	Key     []string // the columns of the key that the table has

	whole *Row // with room for all columns
	read  func(*Row) T
}

// Complete returns the row as it should be: the cells that are not given are the present ones. It is read and refused as
// if it were enrolled. The names of the present cells are those of the columns of a roster.
func (c Correction[T]) Complete(present map[string]string) (row T, err error) {
	for _, column := range c.whole.table.columns {
		if cell, ok := present[column]; ok && !slices.Contains(c.Given, column) {
			c.whole.Set(column, cell)
		}
	}
	c.whole.Err = nil
	row = c.read(c.whole)
	return row, c.whole.Err
}

// Corrections gathers the rows of tables of corrections.
type Corrections struct {
	Exposures    []Correction[study.Exposure]
	Pulls        []Correction[study.Pull]
	Batches      []Correction[study.GlassBatch]
	Coupons      []Correction[study.Coupon]
	Lives        []Correction[study.CouponEvent]
	Doses        []Correction[study.DoseReading]
	Instruments  []Correction[study.Instrument]
	Events       []Correction[study.Event]
	References   []Correction[study.Reference]
	Standards    []Correction[study.Standard]
	Sessions     []Correction[study.Session]
	Checks       []Correction[study.StandardReading]
	Measurements []Correction[Measured]

	Faults study.Refusals // of rows whose key cannot be read
	Notes  []string
}

// correctable is a kind of rows that can be corrected.
type correctable struct {
	name         string
	key, keyElse []string // columns of the key; those of the latter may be left out
	columns      []string // the others
	add          func(*Corrections, *Table, *correctable)
}

// corrected makes a kind of rows, of which a header has all these columns.
func corrected[T any](name string, key, keyElse []string, into func(*Corrections) *[]Correction[T], keyOf, read func(*Row) T,
	all ...[]string) correctable {
	isKey := func(c string) bool { return slices.Contains(key, c) || slices.Contains(keyElse, c) }
	k := correctable{name: name, key: key, keyElse: keyElse, columns: slices.DeleteFunc(slices.Concat(all...), isKey)}
	k.add = func(c *Corrections, s *Table, k *correctable) {
		whole := NewTable(s.File, slices.Concat(k.key, k.keyElse, k.columns))
		whole.separator, whole.comments = s.separator, s.comments
		var given, named []string
		for _, column := range s.columns {
			if isKey(column) {
				named = append(named, column)
			} else {
				given = append(given, column)
			}
		}
		for i := range s.rows {
			r := whole.NewRow(s.rows[i].Line, nil)
			for j, column := range s.columns {
				r.Set(column, s.rows[i].cells[j])
			}
			row := keyOf(&r)
			if refused, ok := r.Err.(*study.Refusal); ok {
				c.Faults = append(c.Faults, refused)
				continue
			}
			*into(c) = append(*into(c), Correction[T]{Line[T]{s.File, r.Line, row}, given, named, &r, read})
		}
		c.Notes = append(c.Notes, whole.Notes()...)
	}
	return k
}

// correctables are the kinds, those with the longest keys first: a header is that of the first whose key it has.
func correctables() []correctable {
	return []correctable{
		corrected("measurements", []string{"coupon", "pull", "spot", "quantity", "method", "date"},
			[]string{"condition", "replicate"}, func(c *Corrections) *[]Correction[Measured] { return &c.Measurements },
			(*Row).measuredKey, (*Row).measured, measuredColumns, measuredOptional),
		corrected("readings of check standards", []string{"session", "standard", "angle_deg", "polarisation"}, replicateColumn,
			func(c *Corrections) *[]Correction[study.StandardReading] { return &c.Checks },
			(*Row).standardReadingKey, (*Row).standardReading, standardReadingColumns, replicateColumn),
		corrected("check standards", []string{"standard", "issued", "angle_deg", "polarisation"}, nil,
			func(c *Corrections) *[]Correction[study.Standard] { return &c.Standards },
			(*Row).standardKey, (*Row).standard, standardColumns, noteColumn),
		corrected("events of instruments", []string{"instrument", "date", "event"}, nil,
			func(c *Corrections) *[]Correction[study.Event] { return &c.Events },
			(*Row).event, (*Row).event, eventColumns, noteColumn),
		corrected("events of coupons", []string{"coupon", "event"}, []string{"pull", "date"},
			func(c *Corrections) *[]Correction[study.CouponEvent] { return &c.Lives },
			(*Row).couponEventKey, (*Row).correctedEvent, lifeColumns, lifeOptional, toPullColumn, toDateColumn),
		corrected("doses", []string{"exposure", "date"}, nil,
			func(c *Corrections) *[]Correction[study.DoseReading] { return &c.Doses },
			func(r *Row) study.DoseReading {
				return study.DoseReading{Exposure: r.needed("exposure"), Date: r.neededDate("date")}
			}, (*Row).correctedDose, doseColumns, toDateColumn),
		corrected("references", []string{"reference", "issued"}, nil,
			func(c *Corrections) *[]Correction[study.Reference] { return &c.References },
			func(r *Row) study.Reference {
				return study.Reference{Reference: r.needed("reference"), Issued: r.neededDate("issued")}
			}, (*Row).reference, referenceColumns, noteColumn),
		corrected("pulls", []string{"exposure", "pull"}, nil,
			func(c *Corrections) *[]Correction[study.Pull] { return &c.Pulls },
			func(r *Row) study.Pull { return study.Pull{Exposure: r.needed("exposure"), Pull: r.whole("pull", 0)} },
			(*Row).pull, pullColumns),
		corrected("batches of glass", []string{"glass", "batch"}, nil,
			func(c *Corrections) *[]Correction[study.GlassBatch] { return &c.Batches },
			func(r *Row) study.GlassBatch {
				return study.GlassBatch{Glass: study.GlassName(r.needed("glass")), Batch: r.needed("batch")}
			}, (*Row).glassBatch, batchColumns),
		corrected("coupons", []string{"coupon"}, nil,
			func(c *Corrections) *[]Correction[study.Coupon] { return &c.Coupons },
			func(r *Row) study.Coupon { return study.Coupon{Coupon: r.needed("coupon")} },
			(*Row).coupon, couponColumns, couponOptional),
		corrected("sessions", []string{"session"}, nil,
			func(c *Corrections) *[]Correction[study.Session] { return &c.Sessions },
			func(r *Row) study.Session { return study.Session{Session: r.needed("session")} },
			(*Row).session, sessionColumns, sessionOptional),
		corrected("instruments", []string{"instrument"}, nil,
			func(c *Corrections) *[]Correction[study.Instrument] { return &c.Instruments },
			func(r *Row) study.Instrument { return study.Instrument{Instrument: r.needed("instrument")} },
			(*Row).instrument, instrumentColumns, instrumentOptional),
		corrected("exposures", []string{"exposure"}, nil,
			func(c *Corrections) *[]Correction[study.Exposure] { return &c.Exposures },
			func(r *Row) study.Exposure { return study.Exposure{Exposure: r.needed("exposure")} },
			(*Row).exposure, exposureColumns),
	}
}

// Add reads one file: rows of one kind, distinguished by the columns. A table has the columns of the key, and of the
// others those that change. A fault of a row goes to Faults; the error is a [*study.Refusal] of the table as a whole.
func (c *Corrections) Add(name string, data []byte) error {
	s, err := open(name, data)
	if err != nil {
		return err
	}
	var headers []string
	for _, k := range correctables() {
		headers = append(headers, k.name+" "+strings.Join(k.key, ","))
		if !k.isHeader(s.columns) {
			continue
		}
		if err := s.names(k.key, slices.Concat(k.keyElse, k.columns)); err != nil {
			return err
		}
		if len(s.columns) == len(k.key) {
			return &study.Refusal{File: name, Line: 1, Fault: "the table has only the key of " + k.name + ", and nothing to amend",
				Try: "add the columns that change, of " + strings.Join(k.columns, ", ")}
		}
		if len(s.rows) == 0 {
			return &study.Refusal{File: name, Fault: "the table has no rows", Try: "write a row for each row to amend"}
		}
		k.add(c, s, &k)
		return nil
	}
	return &study.Refusal{File: name, Line: 1,
		Fault: "this is not the header of a table of corrections: " + strings.Join(s.columns, ","),
		Try: "give the columns of the key and, of the others of the same table, those that change; the keys are: " +
			strings.Join(headers, "; ")}
}

// isHeader reports whether a table with these columns has the key of the kind and, for the most, its columns.
func (k *correctable) isHeader(columns []string) bool {
	for _, c := range k.key {
		if !slices.Contains(columns, c) {
			return false
		}
	}
	others, known := 0, 0
	for _, c := range columns {
		if slices.Contains(k.key, c) || slices.Contains(k.keyElse, c) {
			continue
		}
		others++
		if slices.Contains(k.columns, c) {
			known++
		}
	}
	return others == 0 || known > 0
}

func (r *Row) measuredKey() Measured {
	m := Measured{Measurement: study.Measurement{Coupon: r.needed("coupon"), Pull: r.whole("pull", 0), Spot: r.Text("spot"),
		Condition: r.word("condition", conditions...), Quantity: r.needed("quantity"), Method: r.needed("method"),
		Date: r.neededDate("date"), Replicate: r.replicate()}}
	return m
}

func (r *Row) standardReadingKey() study.StandardReading {
	c := study.StandardReading{Session: r.needed("session"), Standard: r.needed("standard"), Replicate: r.replicate()}
	c.AngleDeg, c.Polarisation = r.setting()
	return c
}

func (r *Row) standardKey() study.Standard {
	c := study.Standard{Standard: r.needed("standard"), Issued: r.neededDate("issued")}
	c.AngleDeg, c.Polarisation = r.setting()
	return c
}

// replicate returns which one it is, 1 where the cell is empty or not there.
func (r *Row) replicate() int {
	if r.Text("replicate") == "" {
		return 1
	}
	return r.whole("replicate", 1)
}
