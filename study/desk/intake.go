package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/study"
	"wane/study/intake"
	"wane/study/store"
)

// batchExports is how many exports are committed together, or what is there after
// batchTime or with batchBytes.
const (
	batchExports = 100
	batchBytes   = 16 << 20
)

// Progress is told of finished units after they are committed.
type Progress func(done, total int)

// TakenIn is what became of the files of an intake.
type TakenIn struct {
	Files, Curves int      // with something new; the new curves
	Known         int      // files of which all was there already
	Left          int      // files found in folders, zip files and by patterns that the map has no row for
	Refused       []error  // each a *study.Refusal; the files that are not in
	Notes         []string // things taken silently but worth telling
}

// IntakeOptions say how an intake runs.
type IntakeOptions struct {
	Workers  int // at least 1
	Progress Progress
	Stated   intake.Stated // of all exports, beside what the map states of each
}

// Intake takes exports in, as the map says: which column of which file belongs
// where. Paths lead to files as [intake.Files.Find] has it; without any, all files
// that the map names are taken. A file given by its name that the map does not name
// is refused; one that was found in a folder, in a zip file or by a pattern is left.
// An export is in as a whole or not at all.
func (d *Desk) Intake(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (out *TakenIn, err error) {
	files := &intake.Files{}
	defer func() { err = errors.Join(err, files.Close()) }()
	p, err := d.planIntake(ctx, files, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	out = &TakenIn{Left: p.left.n}
	if p.left.n > 0 {
		out.Notes = append(out.Notes, p.left.note(mapFile))
	}
	room := newRoom(heldBytes)
	take := &taker{ctx: context.WithoutCancel(ctx), desk: d, since: time.Now(), out: out, total: len(p.jobs), progress: opt.Progress}
	read := func(ctx context.Context, _ int, j *exportJob) (*exportJob, error) {
		if err := room.enter(ctx, j.number, files.Size(j.path)); err != nil {
			return nil, err
		}
		j.read(files, p.index)
		return j, nil
	}
	add := func(j *exportJob) error {
		room.leave(j.number)
		return take.add(j)
	}
	err = finish(inOrder(ctx, opt.Workers, p.jobs, read, add), take.commit)
	return out, err
}

// intakePlan is what an intake will do: the files to take in, the roster that their
// rows of the map are checked against, and the files that are left.
type intakePlan struct {
	jobs  []*exportJob
	index *rosterIndex
	left  leftFiles
}

func (d *Desk) planIntake(ctx context.Context, files *intake.Files, mapFile string, paths []string, opt IntakeOptions) (*intakePlan, error) {
	data, err := intake.ReadFile(mapFile)
	if err != nil {
		return nil, err
	}
	placings, err := intake.ReadMap(mapFile, data)
	if err != nil {
		return nil, err
	}
	if len(placings) == 0 {
		return nil, &study.Refusal{File: mapFile, Fault: "the map has no rows", Try: "write a row for each column that belongs into the study"}
	}
	p := &intakePlan{}
	if p.jobs, err = jobsOf(mapFile, placings); err != nil {
		return nil, err
	}
	if len(paths) > 0 {
		if err := p.choose(files, mapFile, paths); err != nil {
			return nil, err
		}
	}
	for i, j := range p.jobs {
		j.number, j.given = i, opt.Stated
	}
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	p.index = newRosterIndex(roster)
	return p, nil
}

// exportJob is one file on its way in.
type exportJob struct {
	number   int // in the order of the intake, from 0
	path     string
	key      string // the absolute path
	placings []intake.Line[intake.Placing]
	given    intake.Stated // of all exports

	export   study.Export
	readings []study.Reading
	notes    []string
	refused  error
}

// jobsOf groups the rows of a map by file, in the order in which it names them.
func jobsOf(mapFile string, placings []intake.Line[intake.Placing]) (order []*exportJob, err error) {
	folder := filepath.Dir(mapFile)
	byKey := map[string]*exportJob{}
	for _, l := range placings {
		path := filepath.Join(folder, l.Row.File)
		key, err := filepath.Abs(path)
		if err != nil {
			return nil, err
		}
		if byKey[key] == nil {
			byKey[key] = &exportJob{path: path, key: key}
			order = append(order, byKey[key])
		}
		for _, other := range byKey[key].placings {
			if sameRow(other.Row, l.Row) {
				return nil, l.Refuse("write each row once", "the row stands in line %d already", other.Number)
			}
		}
		byKey[key].placings = append(byKey[key].placings, l)
	}
	return order, nil
}

// sameRow reports whether two rows say the same.
func sameRow(a, b intake.Placing) bool {
	if math.IsNaN(float64(a.OrientationDeg)) && math.IsNaN(float64(b.OrientationDeg)) {
		a.OrientationDeg, b.OrientationDeg = 0, 0 // a null is NaN and equals nothing
	}
	return a == b
}

// rosterIndex answers whether a coupon is enrolled and a pull planned.
type rosterIndex struct {
	coupons map[string]*study.Coupon
	planned map[string]map[int]bool // by exposure; under "" the pulls of any
}

func newRosterIndex(r *study.Roster) *rosterIndex {
	x := &rosterIndex{coupons: map[string]*study.Coupon{}, planned: map[string]map[int]bool{"": {}}}
	for i := range r.Coupons {
		x.coupons[r.Coupons[i].Coupon] = &r.Coupons[i]
	}
	for _, p := range r.Pulls {
		if x.planned[p.Exposure] == nil {
			x.planned[p.Exposure] = map[int]bool{}
		}
		x.planned[p.Exposure][p.Pull], x.planned[""][p.Pull] = true, true
	}
	return x
}

// check refuses a row of the map for a coupon nobody enrolled or a pull nobody
// planned.
func (x *rosterIndex) check(l *intake.Line[intake.Placing]) error {
	c := x.coupons[l.Row.Coupon]
	if c == nil {
		return l.Refuse("enrol the coupon first, or correct its code", "nobody enrolled the coupon %q", l.Row.Coupon)
	}
	if !x.planned[c.Exposure][l.Row.Pull] {
		of := "any exposure"
		if c.Exposure != "" {
			of = "the exposure " + c.Exposure
		}
		return l.Refuse("enrol the pull first, or correct its number", "nobody planned pull %d of %s, to which coupon %s belongs", l.Row.Pull, of, c.Coupon)
	}
	return nil
}

// read fills the readings of the job, or says why it is refused.
func (j *exportJob) read(files *intake.Files, roster *rosterIndex) {
	if j.refused != nil {
		return
	}
	for i := range j.placings {
		if j.refused = roster.check(&j.placings[i]); j.refused != nil {
			return
		}
	}
	data, err := files.Read(j.path)
	if err != nil {
		j.refused = err
		return
	}
	j.export = study.Export{Name: filepath.Base(j.path), SHA256: sha256.Sum256(data), Data: data}
	j.refused = j.parse()
}

// parse reads the curves and puts each where the map says.
func (j *exportJob) parse() error {
	stated, err := j.stated()
	if err != nil {
		return err
	}
	parsed, err := intake.Read(j.path, j.export.Data, stated)
	if err != nil {
		return err
	}
	for _, n := range parsed.Notes {
		j.notes = append(j.notes, j.path+": "+n)
	}
	sum, wanted := hex.EncodeToString(j.export.SHA256[:]), map[int]bool{}
	for i := range j.placings {
		r, err := reading(&j.placings[i], parsed, sum)
		if err != nil {
			return err
		}
		if wanted[r.Column] {
			return j.placings[i].Refuse("give each column one row", "column #%d of %s has a row in this map already", r.Column, j.placings[i].Row.File)
		}
		j.readings = append(j.readings, *r)
		wanted[r.Column] = true
	}
	var left []string
	for i := range parsed.Spectra {
		if c := &parsed.Spectra[i]; !wanted[c.Column] {
			left = append(left, fmt.Sprintf("#%d %q", c.Column, c.Heading))
		}
	}
	if len(left) > 0 {
		j.notes = append(j.notes, j.path+": the map has no row for "+strings.Join(left, ", ")+"; left out")
	}
	return nil
}

// stated returns what the rows of the file state together. An empty cell states
// nothing; two rows may not contradict one another, since a file has one unit.
func (j *exportJob) stated() (intake.Stated, error) {
	all := j.given
	all.InMap = true
	for i := range j.placings {
		l := &j.placings[i]
		row := l.Row.Stated
		for _, f := range []struct {
			known *string
			said  string
		}{{&all.Unit, row.Unit}, {&all.WavelengthUnit, row.WavelengthUnit}, {&all.Quantity, row.Quantity}} {
			if *f.known != "" && f.said != "" && *f.known != f.said {
				return all, l.Refuse("state the same in all rows of a file, or leave the cell empty",
					"this row states %s for %s, and an earlier one %s", f.said, l.Row.File, *f.known)
			}
			if f.said != "" {
				*f.known = f.said
			}
		}
	}
	return all, nil
}

// reading makes the reading of one row of the map.
func reading(l *intake.Line[intake.Placing], parsed *intake.Export, sum string) (*study.Reading, error) {
	s, err := findColumn(l, columnsOf(parsed))
	if err != nil {
		return nil, err
	}
	p := l.Row.Place
	if s.Quantity != study.Reflectance {
		return nil, l.Refuse("map columns of reflectance only", "column %q of %s is transmittance; this needs reflectance", l.Row.Column, l.Row.File)
	}
	p.Quantity = s.Quantity
	if s.AngleDeg == s.AngleDeg && s.AngleDeg != p.AngleDeg {
		return nil, l.Refuse("correct the map", "column %q of %s is headed %q, but the map says %g degrees", l.Row.Column, l.Row.File, s.Heading, p.AngleDeg)
	}
	native := s.Polarisation == "u" && p.Polarisation == "n" // more cautious, no contradiction
	if s.Polarisation != "" && s.Polarisation != p.Polarisation && !native {
		return nil, l.Refuse("correct the map", "column %q of %s is stated to be in polarisation %s, but the map says %s", l.Row.Column, l.Row.File, s.Polarisation, p.Polarisation)
	}
	return &study.Reading{Place: p, Session: l.Row.Session, Operator: l.Row.Operator, Geometry: l.Row.Geometry, OrientationDeg: l.Row.OrientationDeg,
		Export: sum, Column: s.Column, Heading: s.Heading, NM: s.NM, Values: s.Values}, nil
}

// columnsOf returns the curves that a map may name: those taken as spectra, and
// those left that a person may still want, such as a column headed as a blank's.
func columnsOf(parsed *intake.Export) []study.Spectrum {
	columns := slices.Clone(parsed.Spectra)
	for _, l := range parsed.Left {
		if l.Spectrum != nil {
			columns = append(columns, *l.Spectrum)
		}
	}
	return columns
}

// findColumn returns the spectrum that a row of the map names by #number or by
// heading.
func findColumn(l *intake.Line[intake.Placing], spectra []study.Spectrum) (*study.Spectrum, error) {
	number := 0
	if text, ok := strings.CutPrefix(l.Row.Column, "#"); ok {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return nil, l.Refuse("write #2 for the first column after the wavelengths, or a heading", "%q names no column", l.Row.Column)
		}
		number = n
	}
	var found *study.Spectrum
	var headings []string
	for i := range spectra {
		s := &spectra[i]
		headings = append(headings, fmt.Sprintf("#%d %q", s.Column, s.Heading))
		if number != 0 && s.Column == number || number == 0 && s.Heading == l.Row.Column {
			if found != nil {
				return nil, l.Refuse("name the column by its number, such as #2", "%s has more than one column headed %q", l.Row.File, l.Row.Column)
			}
			found = s
		}
	}
	if found == nil {
		return nil, l.Refuse("its columns are "+strings.Join(headings, ", "), "%s has no column %q", l.Row.File, l.Row.Column)
	}
	return found, nil
}

// taker commits jobs in batches.
type taker struct {
	ctx      context.Context
	desk     *Desk
	out      *TakenIn
	batch    []*exportJob
	bytes    int // of the exports in the batch
	since    time.Time
	done     int
	total    int
	progress Progress
}

func (t *taker) add(j *exportJob) error {
	t.batch = append(t.batch, j)
	t.bytes += len(j.export.Data)
	if len(t.batch) < batchExports && t.bytes < batchBytes && time.Since(t.since) < batchTime {
		return nil
	}
	return t.commit()
}

// commit takes the batch in, in one transaction; an export that is refused stays
// out by itself.
func (t *taker) commit() error {
	var in TakenIn
	entry := t.desk.entry("intake", "")
	err := t.desk.store.Write(t.ctx, entry, func(tx *store.Tx) error {
		in = TakenIn{}
		for _, j := range t.batch {
			if err := in.add(tx, j); err != nil {
				return err
			}
		}
		entry.Summary = fmt.Sprintf("took in %d exports with %d curves", in.Files, in.Curves)
		return nil
	})
	if err != nil {
		return err
	}
	t.out.Files += in.Files
	t.out.Curves += in.Curves
	t.out.Known += in.Known
	t.out.Refused = append(t.out.Refused, in.Refused...)
	t.out.Notes = append(t.out.Notes, in.Notes...)
	t.done += len(t.batch)
	for _, j := range t.batch {
		*j = exportJob{} // the list of files outlives their contents
	}
	t.batch, t.bytes, t.since = t.batch[:0], 0, time.Now()
	if t.progress != nil {
		t.progress(t.done, t.total)
	}
	return nil
}

// add puts one job into the transaction and counts it.
func (in *TakenIn) add(tx *store.Tx, j *exportJob) error {
	if j.refused != nil {
		in.Refused = append(in.Refused, j.refused)
		return nil
	}
	n, err := tx.AddExport(j.export, study.Taking{}, j.readings)
	var r *study.Refusal
	switch {
	case errors.As(err, &r):
		r.File = j.path
		in.Refused = append(in.Refused, r)
	case err != nil:
		return err
	case n == 0:
		in.Known++
	default:
		in.Files++
		in.Curves += n
		in.Notes = append(in.Notes, j.notes...)
	}
	return nil
}
