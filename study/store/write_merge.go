package store

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/study"
)

// Merged is what [Tx.Merge] found.
type Merged struct {
	Conflicts study.Refusals // what differs, each once; nothing may be kept then
	More      int            // conflicts beyond the first hundred
	Head      study.Entry    // the last line of the log of the other study
	Unplanned int            // readings of coupons or pulls that were withdrawn there: they do not come along
}

// mostConflicts bounds how many conflicts of a merge are listed.
const mostConflicts = 100

// Merge adds what another study holds now: rosters, register, lives of coupons, protocols, profiles and rules, its current
// readings with their exports, measurements, and the tables that it was given. What is equal adds nothing. Whatever
// differs under one key is a conflict: all of them are listed, and the caller has to undo the transaction. Fits, holds and
// corrections do not come along; a reading that was set aside there is set aside here, for the reason given there. name is
// that of the file. Each row that is added is known by the line of the other log under which it came.
//
// Rows of the other study are checked as they are read.
func (tx *Tx) Merge(other *View, name string) (*Merged, error) {
	m := &merge{tx: tx, other: other, name: name, versions: map[string]int{}, grids: map[int64]grid{}, before: tx.tally.number}
	for _, step := range []func() error{m.head, m.texts, m.rules, m.keyed, m.readings, m.measurements, m.given} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	if len(m.out.Conflicts) > 0 || !tx.Adds() {
		return &m.out, nil
	}
	return &m.out, m.note()
}

// merge is one run of Merge.
type merge struct {
	tx       *Tx
	other    *View
	name     string
	out      Merged
	versions map[string]int  // of protocols and profiles here, by table, name and version there
	grids    map[int64]grid  // of the other study
	before   totals          // when the last rows were noted
	runs     []mergedRowsRow // line is still that of the other log
}

// conflict notes a refusal, and returns any other error.
func (m *merge) conflict(err error) error {
	var r *study.Refusal
	if !errors.As(err, &r) {
		return err
	}
	if slices.ContainsFunc(m.out.Conflicts, func(o *study.Refusal) bool { return o.Error() == r.Error() }) {
		return nil
	}
	if len(m.out.Conflicts) == mostConflicts {
		m.out.More++
		return nil
	}
	m.out.Conflicts = append(m.out.Conflicts, r)
	return nil
}

// came notes that the rows that were added since the last call came under a line of the other log.
func (m *merge) came(line int64) {
	for _, t := range tables {
		first, last := m.before[t.index]+1, m.tx.tally.number[t.index]
		if last < first {
			continue
		}
		i := slices.IndexFunc(m.runs, func(r mergedRowsRow) bool { return r.of == t.name && r.line == line && r.last == first-1 })
		if i < 0 {
			m.runs = append(m.runs, mergedRowsRow{t.name, first, last, line})
		} else {
			m.runs[i].last = last
		}
	}
	m.before = m.tx.tally.number
}

// head reads the last line of the other log.
func (m *merge) head() error {
	number, err := lastNumber(m.other.ctx, m.other.q, logTable.table)
	if err == nil {
		m.out.Head, err = lineNumbered(m.other.ctx, m.other.q, number)
	}
	return m.other.refuse(err)
}

func versionKey(table, name string, version int) string {
	return fmt.Sprintf("%s %s@%d", table, name, version)
}

// texts adds the versions of protocols and profiles that are not here.
func (m *merge) texts() error {
	for _, t := range []*tableOf[study.Versioned]{protocolTable, profileTable} {
		err := t.each(m.other.ctx, m.other.q, "FROM "+t.name+" ORDER BY "+t.name+", version", nil,
			func(k *Kept[study.Versioned]) error {
				version, err := m.version(t, &k.Row)
				m.versions[versionKey(t.name, k.Row.Name, k.Row.Version)] = version
				m.came(k.Line)
				return err
			})
		if err != nil {
			return err
		}
	}
	return nil
}

// rules adds the rules that are not here. Verdicts stay with the study in which they were issued.
func (m *merge) rules() error {
	return ruleTable.each(m.other.ctx, m.other.q, "", nil, func(k *Kept[study.KeptRule]) error {
		line, rule := k.Line, k.Row
		_, err := m.tx.AddRule(rule)
		if err = m.conflict(err); err != nil {
			return err
		}
		m.came(line)
		return nil
	})
}

// version returns under which version this study keeps a text, which it adds if it does not keep it.
func (m *merge) version(t *tableOf[study.Versioned], of *study.Versioned) (int, error) {
	there, err := t.one(m.tx.ctx, prepared{m.tx}, "FROM "+t.name+" WHERE "+t.name+" = ? AND text = ? ORDER BY version LIMIT 1",
		of.Name, of.Text)
	if err != nil {
		return 0, m.tx.fail(err)
	}
	if there != nil {
		return there.Row.Version, nil
	}
	version, _, err := m.tx.addVersion(t, of.Name, of.Text)
	return version, err
}

// keyed adds the rows that people find by a key, but measurements.
func (m *merge) keyed() error {
	for _, t := range keyedTables() {
		if t == measurementTable.table {
			continue
		}
		kept := slices.Index(t.columns, keptProtocol)
		err := t.eachRow(m.other.ctx, m.other.q, "", nil, func(r row) error {
			line, own := r.whole(1), append(row{nil, nil}, r[len(headColumns):]...)
			if kept >= 0 && own[kept] != nil {
				own[kept] = m.protocol(own.text(kept))
			}
			_, err := m.tx.enrol(t, own)
			if err = m.conflict(err); err != nil {
				return err
			}
			m.came(line)
			return nil
		})
		if err != nil {
			return m.other.refuse(err)
		}
	}
	return nil
}

// protocol is the version here of a protocol that the other study keeps, as damp-heat@1.
func (m *merge) protocol(there string) string {
	version, known := m.versions[protocolTable.name+" "+there]
	name, _, ok := strings.Cut(there, "@")
	if !known || !ok {
		return there
	}
	return study.Protocol{Name: name, Version: version}.String()
}

// file returns a file that the other study keeps, packed as it is there.
func (m *merge) file(number int64) (study.Export, error) {
	e, err := exportTable.one(m.other.ctx, m.other.q, "FROM export WHERE id = ?", number)
	if err == nil && e == nil {
		err = &damage{table: "export", row: number, fault: "it is missing"}
	}
	if err != nil {
		return study.Export{}, m.other.refuse(err)
	}
	o, err := originalTable.one(m.other.ctx, m.other.q, "FROM original WHERE id = ?", number)
	if err == nil && o == nil {
		err = &damage{table: "original", row: number, fault: "it is missing"}
	}
	if err == nil {
		_, err = m.other.store.decompress(e, o) // what is not that of its SHA-256 is not taken over
	}
	if err != nil {
		return study.Export{}, m.other.refuse(err)
	}
	file := e.Row
	file.Packed = o.Row.Packed
	return file, nil
}

// readings adds the current readings, export by export, as they were taken in.
func (m *merge) readings() error {
	aside, err := m.asideThere()
	if err != nil {
		return err
	}
	unplanned, err := m.unplannedThere()
	if err != nil {
		return err
	}
	m.out.Unplanned = len(unplanned)
	var group []row
	flush := func() error {
		defer func() { group = nil }()
		return m.addGroup(group, aside)
	}
	err = readingTable.eachRow(m.other.ctx, m.other.q, "FROM reading WHERE superseded_by IS NULL ORDER BY export, intake, log, id", nil,
		func(r row) error {
			if unplanned[r.whole(0)] {
				return nil
			}
			same := func(i int) bool { return len(group) == 0 || group[0][i] == r[i] }
			if !same(readingExport) || !same(readingIntake) || !same(1) {
				if err := flush(); err != nil {
					return err
				}
			}
			group = append(group, append(row(nil), r...))
			return nil
		})
	if err == nil {
		err = flush()
	}
	return err
}

// unplannedThere returns the current readings of coupons or pulls that are no part of the other study any more: they are
// set aside there.
func (m *merge) unplannedThere() (map[int64]bool, error) {
	found := map[int64]bool{}
	err := ask(m.other.ctx, m.other.q, `SELECT id FROM reading r WHERE superseded_by IS NULL AND NOT EXISTS (
		SELECT 1 FROM v_coupons c WHERE c.coupon = r.coupon AND iif(c.exposure IS NULL,
			EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = r.pull),
			EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = r.pull AND (p.exposure = c.exposure OR p.exposure IN
				(SELECT exposure FROM v_coupon_events v WHERE v.coupon = c.coupon AND v.exposure IS NOT NULL)))))`, nil,
		func(r row) error {
			found[r.whole(0)] = true
			return nil
		})
	if err != nil {
		return nil, m.other.refuse(err)
	}
	return found, nil
}

// asideThere returns why readings were set aside in the other study, by their numbers there.
func (m *merge) asideThere() (map[int64]string, error) {
	judged, err := m.other.Standings()
	if err != nil {
		return nil, err
	}
	why := map[int64]string{}
	for number, j := range judged {
		if j.Standing != study.Aside || len(j.Reviews) == 0 {
			continue
		}
		last := j.Reviews[len(j.Reviews)-1]
		line, err := m.other.Line(last.Line)
		if err != nil {
			return nil, err
		}
		why[number] = fmt.Sprintf("set aside in %s by %s: %s", study.Shown(m.name), line.Who, last.Row.Why)
	}
	return why, nil
}

// addGroup adds readings of one export that were taken in in one way under one line.
func (m *merge) addGroup(rows []row, aside map[int64]string) error {
	if len(rows) == 0 {
		return nil
	}
	e, err := m.file(rows[0].whole(readingExport))
	if err != nil {
		return err
	}
	how, err := m.taking(rows[0].whole(readingIntake))
	if err != nil {
		return err
	}
	p, line := &Packed{export: e}, rows[0].whole(1)
	for _, r := range rows {
		packed, err := m.reading(r)
		if err != nil {
			return err
		}
		p.readings = append(p.readings, *packed)
	}
	if _, err := m.tx.addPacked(p, how); err != nil {
		return m.conflict(err)
	}
	m.came(line)
	for i := range p.readings {
		number, why := p.readings[i].row.whole(0), aside[rows[i].whole(0)]
		if number == 0 || why == "" {
			continue
		}
		if err := m.tx.Review(study.Review{Reading: number, Standing: study.Aside, Why: why}); err != nil {
			return err
		}
	}
	return nil
}

// taking returns how readings of the other study were taken in.
func (m *merge) taking(intake int64) (how study.Taking, err error) {
	if intake == 0 {
		return how, nil
	}
	k, err := intakeTable.one(m.other.ctx, m.other.q, "FROM intake WHERE id = ?", intake)
	if err == nil && k == nil {
		err = &damage{table: "intake", row: intake, fault: "it is missing"}
	}
	if err != nil {
		return how, m.other.refuse(err)
	}
	how = k.Row.Taking
	if k.Row.profile == 0 {
		return how, nil
	}
	p, err := profileTable.one(m.other.ctx, m.other.q, "FROM profile WHERE id = ?", k.Row.profile)
	if err == nil && p == nil {
		err = &damage{table: "profile", row: k.Row.profile, fault: "it is missing"}
	}
	if err != nil {
		return how, m.other.refuse(err)
	}
	how.Profile, how.Version = p.Row.Name, m.versions[versionKey(profileTable.name, p.Row.Name, p.Row.Version)]
	return how, nil
}

// reading returns a reading of the other study without the numbers of other rows.
func (m *merge) reading(r row) (*packedReading, error) {
	var as readingRow
	if err := readingTable.read(r, &as); err != nil {
		return nil, m.other.refuse(err)
	}
	g, known := m.grids[as.grid]
	if !known {
		k, err := gridTable.one(m.other.ctx, m.other.q, "FROM grid WHERE id = ?", as.grid)
		if err == nil && k == nil {
			err = &damage{table: "grid", row: as.grid, fault: "it is missing"}
		}
		if err != nil {
			return nil, m.other.refuse(err)
		}
		g = k.Row
		m.grids[as.grid] = g
	}
	own := append(row{nil, nil}, r[len(headColumns):]...)
	own[readingExport], own[readingGrid], own[readingIntake], own[readingSuperseded] = nil, nil, nil, nil
	return &packedReading{place: as.Place, column: as.Column, curve: curve{g, as.values, as.bands}, row: own}, nil
}

// measurements adds what other instruments read, with its tables and pictures.
func (m *merge) measurements() error {
	t := measurementTable
	now, err := correctionsOf(m.other.ctx, m.other.q, t.table)
	if err != nil {
		return m.other.refuse(err)
	}
	return t.eachEnrolled(m.other.ctx, m.other.q, "", nil, func(r row) error {
		was, is := new(Kept[measurementRow]), new(Kept[measurementRow])
		if err := t.keep(r, was); err != nil {
			return err
		}
		if !now.apply(r) {
			return nil
		}
		if err := t.keep(r, is); err != nil {
			return err
		}
		if err := m.measurement(&was.Row, &is.Row); err != nil {
			return m.conflict(err)
		}
		m.came(is.Line)
		return nil
	})
}

// measurement adds a measurement as it was measured, which its table says, and amends it as the other study did.
func (m *merge) measurement(was, is *measurementRow) error {
	sheet, err := m.file(is.sheet)
	if err != nil {
		return err
	}
	picture, err := m.picture(is)
	if err != nil {
		return err
	}
	here, err := m.tx.find(measurementTable.table, measurementTable.row(is))
	if err != nil {
		return err
	}
	if here.now != nil { // what it says here is compared
		_, err = m.tx.AddMeasurement(sheet, is.Measurement, picture)
		return err
	}
	before, err := m.picture(was)
	if err != nil {
		return err
	}
	if _, err := m.tx.AddMeasurement(sheet, was.Measurement, before); err != nil {
		return err
	}
	columns := measurementTable.open()
	if was.picture == is.picture {
		columns, _ = without(columns, "picture") // whose number is another here
	}
	_, err = m.tx.AmendMeasurement(is.Measurement, picture, columns...)
	return err
}

// picture returns the picture of a measurement of the other study; nil: it has none.
func (m *merge) picture(of *measurementRow) (*study.Export, error) {
	if of.picture == 0 {
		return nil, nil
	}
	file, err := m.file(of.picture)
	return &file, err
}

// given keeps the tables that the other study was given, if anything else came.
func (m *merge) given() error {
	if !m.tx.Adds() {
		return nil
	}
	return givenTable.each(m.other.ctx, m.other.q, "", nil, func(k *Kept[givenRow]) error {
		use, line := k.Row, k.Line
		e, err := m.file(use.export)
		if err != nil {
			return err
		}
		e.Name = use.name
		if err := m.tx.Give(use.kind, e); err != nil {
			return err
		}
		m.came(line)
		return nil
	})
}

// note adds the study, the lines of its log that brought something, and the rows that came under them.
func (m *merge) note() error {
	of, err := mergedTable.add(m.tx, &mergedRow{m.name, m.out.Head.Number, m.out.Head.Hash})
	if err != nil {
		return m.tx.fail(err)
	}
	lines := map[int64]int64{} // numbers of rows of merged_line by lines there
	for _, run := range m.runs {
		if lines[run.line] == 0 {
			there, err := m.other.Line(run.line)
			if err != nil {
				return err
			}
			if lines[run.line], err = mergedLineTable.add(m.tx, &mergedLineRow{there, of}); err != nil {
				return m.tx.fail(err)
			}
		}
		run.line = lines[run.line]
		if _, err := mergedRowsTable.add(m.tx, &run); err != nil {
			return m.tx.fail(err)
		}
	}
	return nil
}
