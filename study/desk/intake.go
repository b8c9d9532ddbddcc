package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/guard"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/store"
)

// Exports are committed together: a quarter of those that are in already, from fewestExports to
// mostExports, or what is there after batchTime or with batchBytes. Each batch writes again the
// pages of the study that new rows are sorted into: large batches write fewer.
const (
	fewestExports = 100
	mostExports   = 500
	batchBytes    = 16 << 20
)

// Progress is told of finished units after they are committed.
type Progress func(done, total int)

// TakenIn is what became of the files of an intake.
type TakenIn struct {
	Files, Curves int      // with something new; the new curves
	Known         int      // files of which all was there already
	Skipped       int      // files found in folders, zip files and by patterns that nothing places
	Held          []Judged // readings that a guard holds since this intake
	Released      []Judged // readings that no guard holds any more since this intake
	HeldBefore    int      // others that were held before it
	Refused       []error  // each a *study.Refusal, or a *study.Fault; the files that are not in
	Notes         []string // on the map or the profile, and on files that were skipped
	FileNotes     []Note   // on the files that are in
}

// Note is what a person should know of a file that was taken in.
type Note struct{ File, Text string }

func (n Note) String() string { return n.File + ": " + n.Text }

// IntakeOptions say how an intake runs.
type IntakeOptions struct {
	Workers  int // exports that are read at once; 0: one for each core
	Progress Progress
	Stated   text.Stated // of all exports, beside what map and profile state

	// Profile is the path of a profile, which the study then keeps, or the name of one
	// that it keeps. It answers for the exports it is for, and places those that the map
	// does not.
	Profile string
}

// Intake takes exports in, as the map and the profile say: which column of which file
// belongs where. Paths lead to files as [source.Files.Find] has it; without any, all
// files that the map names are taken. A file given by its name that nothing places is
// refused; one that was found in a folder, in a zip file or by a pattern is left. An
// export is in as a whole or not at all. mapFile is empty if the profile places all.
func (d *Desk) Intake(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (out *TakenIn,
	err error) {
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	p, err := d.planIntake(ctx, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, p.close()) }()
	return p.takeIn(ctx, opt)
}

// takeIn takes in what is planned.
func (p *intakePlan) takeIn(ctx context.Context, opt IntakeOptions) (*TakenIn, error) {
	d := p.desk
	before, err := d.held(ctx)
	if err != nil {
		return nil, err
	}
	out := &TakenIn{HeldBefore: len(before), Notes: p.placement.notes()}
	memory := newPendingMemory(mostPendingBytes)
	take := &intakeCommitter{ctx: context.WithoutCancel(ctx), desk: d, where: p.placement, version: p.placement.version,
		since: d.now(), out: out, total: p.total, progress: opt.Progress}
	read := func(ctx context.Context, _ int, j *exportJob) (*exportJob, error) {
		if err := memory.acquire(ctx, j.number, p.files.Size(j.path)); err != nil {
			return nil, err
		}
		return j, p.read(ctx, j)
	}
	add := func(j *exportJob) error {
		j.export.Data, j.readings = nil, nil // packed, known or refused
		number := j.number
		err := take.add(j)
		memory.release(number) // after it has been committed, if it is large
		return err
	}
	err = commitRest(inOrder(ctx, opt.Workers, p.jobs(), read, add), take.commit)
	out.Skipped = p.skipped.n
	out.Notes = append(out.Notes, p.skipped.notes(p.placement.describe())...)
	if err == nil {
		var changes *GuardChanges
		if changes, err = d.runGuards(ctx, p.line); err == nil {
			out.Released = changes.Released
			out.Held, err = d.held(ctx)
		}
	}
	known := map[int64]bool{}
	for i := range before {
		known[before[i].Number] = true
	}
	out.Held = slices.DeleteFunc(out.Held, func(j Judged) bool { return known[j.Number] })
	return out, err
}

// intakePlan is what an intake will do: the files to take in, what places their curves,
// and what these are checked against.
type intakePlan struct {
	desk      *Desk
	files     *source.Files
	placement *placement
	index     *rosterIndex
	guard     *guard.Guard
	known     store.Taken
	parser    func(name string, data []byte, stated text.Stated) (*intake.Export, error) // intake.Read
	// of the log, up to which index and guard know the roster
	line int64

	found       []source.Found // that paths led to; nil: all that the map names
	named       map[string]bool
	total       int
	previewOnly bool                   // what is parsed is kept, to be shown, and nothing is taken in
	placesShown map[study.Place]string // the file that has a place, of those that are shown
	skipped     skippedFiles
}

func (d *Desk) planIntake(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (p *intakePlan,
	err error) {
	p = &intakePlan{desk: d, files: &source.Files{}, parser: intake.Read}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	type answer struct {
		known store.Taken
		err   error
	}
	known := make(chan answer, 1)
	go func() { // which takes about as long as to read through the map
		var a answer
		defer func() { known <- a }()
		defer study.Catch("", &a.err)
		a.known, a.err = d.store.Taken(ctx)
	}()
	if p.placement, err = d.placement(ctx, mapFile, opt); err != nil {
		return p, err
	}
	if err = p.chooseFiles(mapFile, paths); err != nil {
		return p, err
	}
	var roster *study.Roster
	err = d.store.View(ctx, func(v *store.View) (err error) {
		if _, _, p.line, err = v.Guarded(); err == nil {
			roster, err = v.Roster()
		}
		return err
	})
	if err != nil {
		return p, err
	}
	p.index, p.guard = newRosterIndex(roster), guard.New(roster)
	a := <-known
	p.known = a.known
	return p, a.err
}

func (p *intakePlan) close() error { return errors.Join(p.placement.close(), p.files.Close()) }

// exportJob is one file on its way in.
type exportJob struct {
	number int // in the order of the intake, from 0
	path   string

	export   study.Export
	how      study.Taking
	known    bool           // the same bytes were taken in the same way before
	parsed   *intake.Export // if it is to be shown
	readings []study.Reading
	packed   *store.Packed // the export and its readings
	notes    []Note
	refused  error
}

// isNew reports whether the job has something to take in.
func (j *exportJob) isNew() bool { return j.refused == nil && !j.known }

// jobs are the files to take in, in their order.
func (p *intakePlan) jobs() iter.Seq[*exportJob] {
	return func(yield func(*exportJob) bool) {
		n := 0
		for j := range p.exportJobs() {
			j.number = n
			if n++; !yield(j) {
				return
			}
		}
	}
}

// rosterIndex answers whether a coupon is enrolled, a pull planned, and what is
// registered of a session.
type rosterIndex struct {
	roster   *study.Roster
	coupons  map[string]*study.Coupon
	planned  map[string]map[int]bool // by exposure; under "" the pulls of any
	sessions map[string]*study.Session
}

func newRosterIndex(r *study.Roster) *rosterIndex {
	x := &rosterIndex{roster: r, coupons: couponsByCode(r), planned: map[string]map[int]bool{"": {}},
		sessions: map[string]*study.Session{}}
	for _, p := range r.Pulls {
		if x.planned[p.Exposure] == nil {
			x.planned[p.Exposure] = map[int]bool{}
		}
		x.planned[p.Exposure][p.Pull], x.planned[""][p.Pull] = true, true
	}
	for i := range r.Sessions {
		x.sessions[r.Sessions[i].Session] = &r.Sessions[i]
	}
	return x
}

// check refuses a line for a coupon nobody enrolled or a pull nobody planned.
func (x *rosterIndex) check(l *sheet.Line[placing.Placing]) error {
	c := x.coupons[l.Row.Coupon]
	if c == nil {
		r := notEnrolled(x.roster, l.Row.Coupon)
		return l.Refuse(r.Try, "%s", r.Fault)
	}
	if !x.planned[c.Exposure][l.Row.Pull] {
		of := "any exposure"
		if c.Exposure != "" {
			of = "the exposure " + c.Exposure
		}
		return l.Refuse("enrol the pull first, or correct its number",
			"nobody planned pull %d of %s, to which coupon %s belongs", l.Row.Pull, of, c.Coupon)
	}
	return nil
}

// read fills the readings of the job, or says why it is refused; a panic on the way refuses
// this file alone. The error is none of the file's.
func (p *intakePlan) read(ctx context.Context, j *exportJob) error {
	defer study.Catch(j.path, &j.refused)
	if j.refused != nil {
		return nil
	}
	lines, err := p.placement.linesOf(j.path)
	if err != nil {
		j.refused = err
		return nil
	}
	for i := range lines {
		if !lines[i].Row.Literal() {
			continue // it is checked when it has been matched
		}
		if j.refused = p.index.check(&lines[i]); j.refused != nil {
			return nil
		}
	}
	stated, err := p.placement.statedOf(j.path, lines)
	if err != nil {
		j.refused = err
		return nil
	}
	data, err := p.files.Read(j.path)
	if err != nil {
		j.refused = err
		return nil
	}
	j.export = study.Export{Name: filepath.Base(j.path), SHA256: sha256.Sum256(data), Data: data}
	j.how = p.taking(j.path, lines, stated)
	if j.known = p.known.Has(j.export.SHA256, j.how.Digest); j.known {
		return nil
	}
	if j.refused = p.parse(j, lines, stated); j.refused != nil {
		return nil
	}
	if p.previewOnly {
		return p.tryToStore(ctx, j)
	}
	j.packed, err = p.desk.store.PackReadings(j.export, j.readings)
	var r *study.Refusal
	if errors.As(err, &r) {
		j.refused = err
		return nil
	}
	return err
}

// parse reads the curves and puts each where the lines say.
func (p *intakePlan) parse(j *exportJob, lines []sheet.Line[placing.Placing], stated text.Stated) error {
	parsed, err := p.parser(j.path, j.export.Data, stated)
	if err != nil {
		return err
	}
	if p.previewOnly {
		j.parsed = parsed
	}
	for _, n := range parsed.Notes {
		j.notes = append(j.notes, Note{j.path, n})
	}
	placed, left, err := placing.Place(lines, parsed.Spectra, parsed.Left)
	if err != nil {
		return err
	}
	sum := hex.EncodeToString(j.export.SHA256[:])
	for i := range placed {
		r, err := p.reading(&placed[i], parsed, stated.RelativeTo)
		if err != nil {
			return err
		}
		r.Export = sum
		j.readings = append(j.readings, *r)
	}
	if len(left) > 0 {
		j.notes = append(j.notes,
			Note{j.path, p.placement.kind() + " has no row for " + strings.Join(left, ", ") + "; left out"})
	}
	return nil
}

// reading makes the reading of one placed curve.
func (p *intakePlan) reading(at *placing.Placed, parsed *intake.Export, relativeTo string) (*study.Reading, error) {
	if err := p.index.check(&at.Line); err != nil {
		return nil, err
	}
	row, s := &at.Row, at.Spectrum
	r := &study.Reading{Place: row.Place, Session: row.Session, Operator: row.Operator, Geometry: row.Geometry,
		OrientationDeg: row.OrientationDeg,
		Column:         s.Column, Heading: s.Heading, NM: s.NM, Values: s.Values}
	r.Quantity = s.Quantity
	r.FirstLine, r.LastLine = parsed.LinesOf(s.Column)
	if needsCertificate(relativeTo) {
		if err := p.index.makeAbsolute(r, &at.Line, relativeTo); err != nil {
			return nil, err
		}
	}
	r.Traits = guard.TraitsOf(r.NM, r.Values)
	r.Concerns = p.guard.JudgeReading(r)
	return r, nil
}

// isReference reports whether values that are relative to what was stated have to be
// converted.
func needsCertificate(relativeTo string) bool { return relativeTo != "" && relativeTo != "absolute" }

// certificate returns the certificate by which a reading of a line, relative to a
// reference, is made absolute.
func (x *rosterIndex) certificate(l *sheet.Line[placing.Placing], reference string) (*study.Reference, error) {
	s := x.sessions[l.Row.Session]
	switch {
	case l.Row.Session == "":
		return nil, l.Refuse("name the session, which tells the day and with it the certificate",
			"the readings are relative to %s, and this line names no session", reference)
	case s == nil:
		return nil, l.Refuse("register it with wane enrol: session,instrument,date,...",
			"the readings are relative to %s, and nobody registered session %q", reference, l.Row.Session)
	case s.Reference != "" && s.Reference != reference:
		return nil, l.Refuse("correct one of the two",
			"the readings are stated to be relative to %s, and session %s was taken against %s", reference, s.Session,
			s.Reference)
	}
	c := x.roster.ReferenceOn(reference, s.Date)
	if c == nil {
		return nil, l.Refuse("register its certificate with a table of values: wane enrol",
			"no certificate of reference %s was issued by %s, the day of session %s", reference, s.Date, s.Session)
	}
	return c, nil
}

// makeAbsolute converts a reading that was taken relative to a reference.
func (x *rosterIndex) makeAbsolute(r *study.Reading, l *sheet.Line[placing.Placing], reference string) error {
	c, err := x.certificate(l, reference)
	if err != nil {
		return err
	}
	s := study.Spectrum{File: l.Row.File, NM: r.NM, Values: r.Values, AngleDeg: r.AngleDeg, Polarisation: r.Polarisation}
	values, _, err := evaluate.Absolute(c, &s) // its u is in what the session's scale is known by
	if err != nil {
		return err
	}
	r.Values, r.Reference, r.Issued = values, c.Reference, c.Issued
	return nil
}

// intakeCommitter commits jobs in batches.
type intakeCommitter struct {
	ctx      context.Context
	desk     *Desk
	where    *placement
	version  int // of the profile in the study; 0: it is not there yet
	out      *TakenIn
	batch    []*exportJob
	bytes    int // of the packed exports in the batch
	since    time.Time
	done     int
	total    int
	progress Progress
}

func (t *intakeCommitter) add(j *exportJob) error {
	t.batch = append(t.batch, j)
	t.bytes += j.packed.Bytes()
	if len(t.batch) < t.enough() && t.bytes < batchBytes && t.desk.now().Sub(t.since) < batchTime {
		return nil
	}
	return t.commit()
}

// enough is how many exports make a batch.
func (t *intakeCommitter) enough() int { return min(max(fewestExports, t.done/4), mostExports) }

// commit takes the batch in, in one transaction; an export that is refused stays
// out by itself.
func (t *intakeCommitter) commit() error {
	var in TakenIn
	news := false
	for _, j := range t.batch {
		news = news || j.isNew()
	}
	entry, version := t.desk.entry("intake", ""), t.version
	add := func(tx *store.Tx) (err error) {
		in, entry.Summary = TakenIn{}, ""
		if version, err = t.keepProfile(tx, entry); err != nil {
			return err
		}
		if err := in.add(tx, t.batch); err != nil {
			return err
		}
		if version != t.version && in.Files == 0 {
			return errUnused
		}
		entry.Summary = fmt.Sprintf("took in %d exports with %d curves%s", in.Files, in.Curves, entry.Summary)
		return nil
	}
	err := error(nil)
	if news {
		err = t.desk.store.Write(t.ctx, entry, add)
	} else {
		err = add(nil)
	}
	switch {
	case err == nil:
		t.version = version
	case !errors.Is(err, errUnused):
		return err
	}
	t.out.Files += in.Files
	t.out.Curves += in.Curves
	t.out.Known += in.Known
	t.out.Refused = append(t.out.Refused, in.Refused...)
	t.out.FileNotes = append(t.out.FileNotes, in.FileNotes...)
	t.done += len(t.batch)
	clear(t.batch) // let their contents go
	t.batch, t.bytes, t.since = t.batch[:0], 0, t.desk.now()
	if t.progress != nil {
		t.progress(t.done, t.total)
	}
	return nil
}

// errUnused undoes a transaction that would keep a profile by which nothing was taken in.
var errUnused = errors.New("the profile was not used")

// keepProfile puts the profile into the study if something new of the batch is taken in by
// it, and returns its version there.
func (t *intakeCommitter) keepProfile(tx *store.Tx, entry *study.Entry) (version int, err error) {
	version = t.version
	for _, j := range t.batch {
		if version == 0 && j.isNew() && j.how.Profile != "" {
			p, added := t.where.profile, false
			if version, added, err = tx.AddProfile(p.Name, p.Text); err != nil {
				return 0, err
			}
			if added {
				entry.Summary = fmt.Sprintf("; kept version %d of profile %s", version, p.Name)
			}
		}
		if j.how.Profile != "" {
			j.how.Version = version
		}
	}
	return version, nil
}

// add puts the jobs of a batch into the transaction and counts them.
func (in *TakenIn) add(tx *store.Tx, batch []*exportJob) error {
	var arrivals []store.Arrival
	for _, j := range batch {
		if j.isNew() {
			arrivals = append(arrivals, store.Arrival{Packed: j.packed, How: j.how})
		}
	}
	outcomes, err := tx.AddAll(arrivals)
	if err != nil {
		return err
	}
	for _, j := range batch {
		switch {
		case j.refused != nil:
			in.Refused = append(in.Refused, j.refused)
		case j.known:
			in.Known++
		default:
			in.count(j, outcomes[0])
			outcomes = outcomes[1:]
		}
	}
	return nil
}

// count counts a job that was not known, by what became of it.
func (in *TakenIn) count(j *exportJob, of store.Outcome) {
	var r *study.Refusal
	switch {
	case errors.As(of.Refused, &r):
		in.Refused = append(in.Refused, r.At(j.path, r.Line))
	case of.Added == 0:
		in.Known++
	default:
		in.Files++
		in.Curves += of.Added
		in.FileNotes = append(in.FileNotes, j.notes...)
	}
}
