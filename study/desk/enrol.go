package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// Enrolled counts what enrol added.
type Enrolled struct {
	Exposures, Coupons, Pulls, Glasses int
	Batches                            int // of glass
	Returns                            int // return spectra of laminated far faces
	Lives, Doses                       int // events of coupons, and rows of doses
	Protocols                          int // versions that the study keeps from now on
	Registered
	Guards GuardChanges // at the readings that this touches
	Notes  []string
}

// None reports whether nothing was added.
func (e Enrolled) None() bool {
	return e.Exposures+e.Coupons+e.Pulls+e.Glasses+e.Batches+e.Returns+e.Protocols+e.Lives+e.Doses == 0 &&
		e.Registered == Registered{}
}

// String counts in words what was added.
func (e Enrolled) String() string {
	words := countsInWords([]added{{e.Exposures, "exposure", "exposures"}, {e.Pulls, "pull", "pulls"},
		{e.Coupons, "coupon", "coupons"}, {e.Glasses, "glass table", "glass tables"}, {e.Batches, "batch of glass", "batches of glass"},
		{e.Returns, "return spectrum", "return spectra"}, {e.Protocols, "protocol", "protocols"},
		{e.Lives, "event of a coupon", "events of coupons"}, {e.Doses, "row of doses", "rows of doses"}})
	words = append(words, e.Registered.words()...)
	if len(words) == 0 {
		return "nothing new"
	}
	return strings.Join(words, ", ")
}

// added is a number of things that were added.
type added struct {
	n         int
	one, many string
}

// countsInWords writes the numbers that are not 0.
func countsInWords(all []added) (words []string) {
	for _, a := range all {
		switch {
		case a.n == 1:
			words = append(words, "1 "+a.one)
		case a.n > 1:
			words = append(words, fmt.Sprintf("%d %s", a.n, a.many))
		}
	}
	return words
}

// Enrol registers the rows of roster files, all or none: exposures, coupons and pulls, what happened to coupons and what
// exposures gave them, and the register of instruments, references, check standards and sessions. Their headers say
// which they are. They are checked together and with what the study holds. The paths of tables that coupons and
// references name are relative to the folder of the roster.
func (d *Desk) Enrol(ctx context.Context, files []string) (*Enrolled, error) {
	var roster sheet.Roster
	var given givenFiles
	faults := &enrolFaults{roster: &roster}
	for _, name := range files {
		data, err := given.read(givenRoster, name)
		if err != nil {
			return nil, err
		}
		if err := faults.note(roster.Add(name, data)); err != nil {
			return nil, err
		}
	}
	glasses, err := loadGlasses(&roster, &given)
	if err != nil {
		return nil, cmp.Or(faults.note(err), faults.err(files))
	}
	returns, err := loadReturns(&roster, &given)
	if err != nil {
		return nil, cmp.Or(faults.note(err), faults.err(files))
	}
	if err := loadReferences(&roster, &given); err != nil {
		return nil, cmp.Or(faults.note(err), faults.err(files))
	}
	n := &Enrolled{}
	var unused []string
	entry := d.entry("enrol", "")
	read := roster
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		*n, roster = Enrolled{}, read
		faults := &enrolFaults{roster: &roster, refused: slices.Clone(faults.refused)}
		for _, add := range []func() error{
			func() error { return addRoster(tx, faults, glasses, returns, n) },
			func() error { return addRegister(tx, faults, &n.Registered) },
			func() error { return addLives(tx, faults, n) },
		} {
			if err := add(); err != nil {
				return err
			}
		}
		whole, err := tx.Roster()
		if err != nil {
			return err
		}
		unused = notesOfBatches(&roster, whole)
		entry.Summary = "enrolled " + n.String()
		if err := faults.note(d.checkEnrolled(whole, faults)); err != nil {
			return err
		}
		if err := faults.err(files); err != nil {
			return err
		}
		return given.keep(tx)
	})
	if err != nil {
		return nil, err
	}
	changes, err := d.runGuards(ctx, 0)
	if err != nil {
		return nil, err
	}
	n.Guards, n.Notes = *changes, slices.Concat(roster.Notes, notesOfModels(&roster), unused,
		notesOfProtocols(&roster))
	return n, nil
}

// glassLine is a glass table with the coupon's row that named it first.
type glassLine = sheet.Line[study.Glass]

// loadGlasses reads the tables that coupons name by path, each file once. Two files
// under one name both come back: the study refuses the one that differs.
func loadGlasses(roster *sheet.Roster, given *givenFiles) ([]glassLine, error) {
	var glasses []glassLine
	read := map[[2]string]bool{} // by name and path
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		name := c.Row.Glass
		isPath, err := namesTable(*c, name)
		if err != nil {
			return nil, err
		}
		if !isPath {
			continue
		}
		path := besideFile(c.File, name)
		key := [2]string{name, path}
		if read[key] {
			continue
		}
		read[key] = true
		data, err := given.read(givenByRoster, path)
		if err != nil {
			return nil, err
		}
		g, err := sheet.ReadGlass(path, data)
		if err != nil {
			return nil, err
		}
		g.Name = name
		glasses = append(glasses, glassLine{File: c.File, Number: c.Number, Row: *g})
	}
	return glasses, nil
}

// namesTable reports whether the glass that a row names is the path of a table, not a glass that the program knows. It
// refuses a name that is neither.
func namesTable[T any](l sheet.Line[T], name string) (bool, error) {
	_, known, err := evaluate.GlassIndex(name)
	if err != nil {
		return false, withPlace(l, err)
	}
	if known || strings.ContainsAny(name, "./") {
		return !known, nil
	}
	names := strings.Join(evaluate.GlassNames(), ", ")
	return false, l.Refuse("write one of "+names+", a formula such as cauchy:1.51 0.0042, or the path of a table "+
		"wavelength_nm,n,k", "there is no glass %q", name)
}

// besideFile returns the path of what a file names: relative to its folder.
func besideFile(file, name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(filepath.Dir(file), name)
}

// returnLine is a return spectrum with the coupon's row that named it first.
type returnLine = sheet.Line[study.ReturnSpectrum]

// loadReturns reads the return spectra that coupons name, as loadGlasses does.
func loadReturns(roster *sheet.Roster, given *givenFiles) (returns []returnLine, err error) {
	read := map[[2]string]bool{} // by name and path
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		name := c.Row.ReturnSpectrum
		path := besideFile(c.File, name)
		key := [2]string{name, path}
		if name == "" || read[key] {
			continue
		}
		read[key] = true
		data, err := given.read(givenByRoster, path)
		if err != nil {
			return nil, err
		}
		s, err := sheet.ReadReturnSpectrum(path, data)
		if err != nil {
			return nil, err
		}
		s.Name = name
		returns = append(returns, returnLine{File: c.File, Number: c.Number, Row: *s})
	}
	return returns, nil
}

// addRoster adds the rows, exposures first since the others name them.
func addRoster(tx *store.Tx, faults *enrolFaults, glasses []glassLine, returns []returnLine, n *Enrolled) error {
	roster, keeper := faults.roster, newProtocolKeeper(tx)
	enrolled, err := tx.Roster()
	if err != nil {
		return err
	}
	for _, add := range []func() error{
		func() error { return addLines(glasses, tx.AddGlass, &n.Glasses) },
		func() error { return addLines(returns, tx.AddReturnSpectrum, &n.Returns) },
		func() error { return batchesPossible(roster) },
		func() error { return addLines(roster.Batches, tx.AddGlassBatch, &n.Batches) },
		func() error { return keeper.exposures(enrolled, roster.Exposures) },
		func() error { return addLines(roster.Exposures, tx.AddExposure, &n.Exposures) },
		func() (err error) {
			if enrolled, err = tx.Roster(); err != nil {
				return err
			}
			return exposuresKnown(enrolled, roster)
		},
		func() error { return keeper.pulls(enrolled, roster.Pulls) },
		func() error { return addLines(roster.Pulls, tx.AddPull, &n.Pulls) },
		func() error { return addLines(roster.Coupons, tx.AddCoupon, &n.Coupons) },
	} {
		if err := faults.note(add()); err != nil {
			return err
		}
	}
	n.Protocols += keeper.added
	return nil
}

// batchesPossible refuses batches of a glass that there is not, and those that cannot be.
func batchesPossible(roster *sheet.Roster) error {
	var refused study.Refusals
	for _, l := range roster.Batches {
		_, err := namesTable(l, l.Row.Glass)
		if err == nil {
			err = withPlace(l, evaluate.CheckBatch(&l.Row))
		}
		if err != nil && !refused.Note(err) {
			return err
		}
	}
	return refused.Err()
}

// notesOfModels says which models of batches are words.
func notesOfModels(roster *sheet.Roster) (notes []string) {
	for _, l := range roster.Batches {
		if m := l.Row.Model; m != "" && !evaluate.IsFormula(m) {
			notes = append(notes, fmt.Sprintf("%s:%d: the model of batch %s is kept as words, and no fit uses it; a formula begins "+
				"with cauchy: or sellmeier:", study.Shown(l.File), l.Number, l.Row.Batch))
		}
	}
	return notes
}

// notesOfBatches says which batches no enrolled coupon has.
func notesOfBatches(roster *sheet.Roster, whole *study.Roster) (notes []string) {
	for _, l := range roster.Batches {
		isOf := func(c study.Coupon) bool { return c.Glass == l.Row.Glass && c.Batch == l.Row.Batch }
		if !slices.ContainsFunc(whole.Coupons, isOf) {
			notes = append(notes, fmt.Sprintf("%s:%d: no coupon is of glass %q and glass_batch %q yet, so that no fit uses the row",
				study.Shown(l.File), l.Number, l.Row.Glass, l.Row.Batch))
		}
	}
	return notes
}

// addLines adds rows one by one and gives a refusal its place. It refuses with all rows that are refused.
func addLines[T any](lines []sheet.Line[T], add func(T) (bool, error), n *int) error {
	var refused study.Refusals
	for _, l := range lines {
		added, err := add(l.Row)
		var r *study.Refusal
		if errors.As(err, &r) && r.Line == 0 {
			err = r.At(l.File, l.Number)
		}
		if err != nil && !refused.Note(err) {
			return err
		}
		*n += asCount(added)
	}
	return refused.Err()
}

// asCount returns 1 for true.
func asCount(added bool) int {
	if added {
		return 1
	}
	return 0
}

// exposuresKnown refuses rows that name an exposure that is not enrolled.
func exposuresKnown(known *study.Roster, roster *sheet.Roster) error {
	names := []string{""}
	for _, e := range known.Exposures {
		names = append(names, e.Exposure)
	}
	try := func(name string) string {
		return study.DidYouMean(name, names[1:],
			"enrol the exposure too, in this call or an earlier one, or correct the name")
	}
	var refused study.Refusals
	for _, l := range roster.Coupons {
		if !slices.Contains(names, l.Row.Exposure) {
			refused.Note(l.Refuse(try(l.Row.Exposure), "coupon %s: there is no exposure %q", l.Row.Coupon, l.Row.Exposure))
		}
	}
	for _, l := range roster.Pulls {
		if !slices.Contains(names, l.Row.Exposure) {
			refused.Note(l.Refuse(try(l.Row.Exposure), "pull %d: there is no exposure %q", l.Row.Pull, l.Row.Exposure))
		}
	}
	return refused.Err()
}

// checkResolved checks what rows say of one another, old and new together: doses rise from pull to
// pull, and the index of each glass is known over the solar band. The error has every fault.
func (d *Desk) checkResolved(whole *study.Roster, added *sheet.Roster) error {
	var refused study.Refusals
	for _, err := range []error{checkDoses(whole, added), checkBaselines(whole, added.Coupons), d.checkOptics(whole, added.Coupons)} {
		if err != nil && !refused.Note(err) {
			return err
		}
	}
	return refused.Err()
}

// checkEnrolled is checkResolved of what is enrolled. Where a row of pulls was refused, nobody can say whether a baseline is
// planned.
func (d *Desk) checkEnrolled(whole *study.Roster, faults *enrolFaults) error {
	roster := *faults.roster
	if !faults.readsAllPulls() {
		roster.Coupons = slices.DeleteFunc(slices.Clone(roster.Coupons), func(l sheet.Line[study.Coupon]) bool {
			return l.Row.BaselinePull > 0
		})
	}
	return d.checkResolved(whole, &roster)
}

// checkDoses refuses doses of pulls that do not rise from pull to pull, where one of two pulls was added.
func checkDoses(whole *study.Roster, added *sheet.Roster) error {
	byExposure, order := map[string][]study.Pull{}, []string{}
	for _, p := range whole.Pulls {
		if byExposure[p.Exposure] == nil {
			order = append(order, p.Exposure)
		}
		byExposure[p.Exposure] = append(byExposure[p.Exposure], p)
	}
	var refused study.Refusals
	for _, exposure := range order {
		pulls := byExposure[exposure]
		sort.Slice(pulls, func(i, j int) bool { return pulls[i].Pull < pulls[j].Pull })
		for i := 1; i < len(pulls); i++ {
			if pulls[i].Dose > pulls[i-1].Dose {
				continue
			}
			if l := lineOfPulls(added, pulls[i-1], pulls[i]); l != nil {
				refused.Note(l.Refuse("let the dose rise from pull to pull", "exposure %s: the dose %g of pull %d is not above the %g of "+
					"pull %d", exposure, pulls[i].Dose, pulls[i].Pull, pulls[i-1].Dose, pulls[i-1].Pull))
			}
		}
	}
	return refused.Err()
}

// lineOfPulls returns the line of the second of two pulls, else that of the first; nil if neither is in the roster.
func lineOfPulls(roster *sheet.Roster, first, second study.Pull) (line *sheet.Line[study.Pull]) {
	for i := range roster.Pulls {
		switch l := &roster.Pulls[i]; {
		case l.Row.Exposure != first.Exposure:
		case l.Row.Pull == second.Pull:
			return l
		case l.Row.Pull == first.Pull:
			line = l
		}
	}
	return line
}

// checkOptics refuses coupons whose optics are not known.
func (d *Desk) checkOptics(whole *study.Roster, coupons []sheet.Line[study.Coupon]) error {
	var refused study.Refusals
	checked := map[string]bool{}
	for _, l := range coupons {
		key := l.Row.Glass + "\x00" + evaluate.KeyOfCoupon(&l.Row, whole)
		if checked[key] {
			continue
		}
		checked[key] = true
		setup, err := evaluate.CouponSetup(&l.Row, d.Settings().Mixing, whole)
		if err == nil {
			_, err = evaluate.NewEvaluator(setup)
		}
		var r *study.Refusal
		if errors.As(err, &r) && r.File == "" {
			err = r.At(l.File, l.Number)
		}
		if err != nil && !refused.Note(err) {
			return err
		}
	}
	return refused.Err()
}
