package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/guard"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
	"wane/study/store"
)

// mover works out what a move changes, at one moment of the study.
type mover struct {
	desk    *Desk
	to      MoveTo
	view    *store.View
	index   *rosterIndex
	guard   *guard.Guard
	reread  rereader
	changes []readingChange
}

// plan fills in the changes. Every reading that cannot be where it should go is in the error.
func (m *mover) plan(v *store.View, of MoveSelection) error {
	roster, err := v.Roster()
	if err != nil {
		return err
	}
	m.view, m.index, m.guard = v, newRosterIndex(roster), guard.New(roster)
	for _, coupon := range m.to.Exchange {
		if m.index.coupons[coupon] == nil {
			return notEnrolled(roster, coupon)
		}
	}
	chosen, err := m.choose(of)
	if err != nil {
		return err
	}
	var faults moveFaults
	for i := range chosen {
		var refused *study.Refusal
		err := m.add(&chosen[i])
		switch {
		case errors.As(err, &refused):
			faults.add(chosen[i].Number, refused)
		case err != nil:
			return err
		}
	}
	return faults.refusals()
}

// moveFaults are what is wrong with readings, each fault once.
type moveFaults struct {
	all     study.Refusals
	numbers [][]int64 // of the readings of each
}

func (f *moveFaults) add(number int64, r *study.Refusal) {
	i := slices.IndexFunc(f.all, func(o *study.Refusal) bool { return o.Fault == r.Fault && o.Try == r.Try })
	if i < 0 {
		i = len(f.all)
		f.all, f.numbers = append(f.all, r), append(f.numbers, nil)
	}
	f.numbers[i] = append(f.numbers[i], number)
}

// refusals returns the faults with the readings that have them; nil if there are none.
func (f *moveFaults) refusals() error {
	for i, r := range f.all {
		if of := countedReadings(f.numbers[i]); strings.HasPrefix(r.File, "reading ") {
			f.all[i] = r.At(of, 0)
		} else if len(f.numbers[i]) > 1 {
			f.all[i] = r.About(of)
		}
	}
	if len(f.all) == 0 {
		return nil
	}
	return f.all
}

// countedReadings names readings: "reading 17", "readings 17-20 33".
func countedReadings(numbers []int64) string {
	if len(numbers) == 1 {
		return fmt.Sprintf("reading %d", numbers[0])
	}
	return "readings " + SpanWords(numbers)
}

// SpanWords names rising numbers, as review and move take them: "17-20 33". Of many spans it names the first, and
// counts the numbers that follow.
func SpanWords(numbers []int64) string {
	var parts []string
	for i := 0; i < len(numbers); {
		k := i + 1
		for k < len(numbers) && numbers[k] == numbers[k-1]+1 {
			k++
		}
		if len(parts) == mostNamed {
			return fmt.Sprintf("%s and %d more", strings.Join(parts, " "), len(numbers)-i)
		}
		if parts = append(parts, strconv.FormatInt(numbers[i], 10)); k-i > 1 {
			parts[len(parts)-1] += "-" + strconv.FormatInt(numbers[k-1], 10)
		}
		i = k
	}
	return strings.Join(parts, " ")
}

// choose returns the chosen readings, in the order of their numbers.
func (m *mover) choose(of MoveSelection) ([]Judged, error) {
	if len(m.to.Exchange) > 0 {
		of.Coupons = m.to.Exchange
	}
	if of.Export != "" {
		numbers, err := m.numbersFrom(of.Export)
		if err != nil {
			return nil, err
		}
		if len(of.Numbers) == 0 && !of.byPlace() {
			of.Numbers = numbers
		}
		chosen, err := m.desk.judgements(m.view, of.Selection)
		return slices.DeleteFunc(chosen, func(j Judged) bool { return !slices.Contains(numbers, j.Number) }), err
	}
	chosen, err := m.desk.judgements(m.view, of.Selection)
	if err != nil {
		return nil, err
	}
	if len(chosen) == 0 {
		return nil, &study.Refusal{Fault: "no reading is chosen",
			Try: "give numbers that `wane trace COUPON` lists, or --coupon, --pull, --spot or --export"}
	}
	for _, coupon := range m.to.Exchange {
		if !slices.ContainsFunc(chosen, func(j Judged) bool { return j.Coupon == coupon }) {
			return nil, &study.Refusal{Fault: "nothing of coupon " + coupon + " is there to be exchanged",
				Try: "move the readings of the other coupon: wane move --coupon CODE --to-coupon " + coupon + " --why TEXT"}
		}
	}
	return chosen, nil
}

// numbersFrom returns the current readings from the files of a name or SHA-256.
func (m *mover) numbersFrom(export string) (numbers []int64, err error) {
	files, err := m.view.Files()
	if err != nil {
		return nil, err
	}
	named := store.Named(files, export)
	if len(named) == 0 {
		return nil, noSuchFile(export)
	}
	for _, f := range named {
		err := m.view.ReadingsFrom(f.Row.SHA256, func(k store.Kept[study.Reading]) error {
			numbers = append(numbers, k.Number)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	if len(numbers) == 0 {
		return nil, &study.Refusal{File: export, Fault: "no reading is from this file",
			Try: "name an export: wane trace COUPON lists them"}
	}
	return numbers, nil
}

// add adds the change of one reading.
func (m *mover) add(j *Judged) error {
	k, err := m.view.ReadingNumbered(j.Number)
	if err != nil {
		return err
	}
	if k == nil {
		return noSuchReading(j.Number)
	}
	r := k.Row
	m.to.apply(&r)
	line := &sheet.Line[placing.Placing]{File: fmt.Sprintf("reading %d", j.Number)}
	line.Row.Place, line.Row.Session, line.Row.Geometry = r.Place, r.Session, r.Geometry
	if err := m.index.check(line); err != nil {
		return err
	}
	taking, err := m.view.TakingOf(j.Number)
	if err != nil {
		return err
	}
	how := study.Taking{}
	if taking != nil {
		how = taking.Row
	}
	readAgain := m.to.Unit != "" || (m.to.AngleDeg.Valid() || m.to.Polarisation != "") && taking != nil ||
		r.Reference != "" && (r.Session != k.Row.Session || r.AngleDeg != k.Row.AngleDeg)
	if readAgain {
		if how, err = m.readAgain(line, &r, taking); err != nil {
			return err
		}
	}
	if err := m.index.checkReturn(&r, line); err != nil {
		return err
	}
	if err := m.index.checkPane(&r, line); err != nil {
		return err
	}
	r.Concerns = m.guard.JudgeReading(&r)
	sum, err := hex.DecodeString(r.Export)
	if err != nil {
		return err
	}
	packed, err := m.desk.store.PackAgain(j.Export, [sha256.Size]byte(sum), []study.Reading{r})
	if err != nil {
		return err
	}
	m.changes = append(m.changes, readingChange{
		pair: MovedPair{Old: j.Number, From: k.Row.Place, To: r.Place, FromSession: k.Row.Session, ToSession: r.Session,
			FromMounting: max(1, k.Row.Mounting), ToMounting: max(1, r.Mounting), FromPosition: k.Row.Position,
			ToPosition: r.Position, Export: j.Export, Column: r.Column,
			ReadAgain: !slices.Equal(r.Values, k.Row.Values), Standing: j.Standing},
		pending: store.PendingExport{Packed: packed, How: how},
	})
	return nil
}

// readAgain reads the numbers of a reading from its export again, with the unit that is right and the certificate
// that its session and angle now call for, and returns how it is taken in now.
func (m *mover) readAgain(line *sheet.Line[placing.Placing], r *study.Reading, taking *store.Kept[study.Taking]) (
	how study.Taking, err error) {
	if taking == nil {
		return how, line.Refuse(
			"take its export in again with a map that says everything: wane intake --map MAP --replace --why TEXT",
			"it was taken in by a wane that did not keep how, so its values cannot be read again")
	}
	how = taking.Row
	stated, err := text.ParseStated(how.Stated)
	if err != nil {
		return how, err
	}
	if m.to.Unit != "" && m.to.Unit != stated.Unit {
		stated.Unit = m.to.Unit
		how = takingWith(how, stated)
	}
	x, err := m.reread.export(m.view, r.Export, stated)
	if err != nil {
		return how, err
	}
	i := slices.IndexFunc(x.Spectra, func(s study.Spectrum) bool { return s.Column == r.Column })
	if i < 0 {
		return how, line.Refuse("leave it as it is, and take its export in again under another name",
			"column %d of %s is not read any more", r.Column, x.Name)
	}
	s := &x.Spectra[i]
	if _, ok := study.AgreedAngle(s.AngleDeg, r.AngleDeg); !ok {
		return how, line.Refuse("correct the angle", "column %d of %s says %g degrees itself, not %g",
			r.Column, x.Name, s.AngleDeg, r.AngleDeg)
	}
	if _, ok := study.AgreedPolarisation(s.Polarisation, r.Polarisation); !ok {
		return how, line.Refuse("correct the polarisation", "column %d of %s says polarisation %s itself, not %s",
			r.Column, x.Name, s.Polarisation, r.Polarisation)
	}
	r.NM, r.Values = s.NM, s.Values
	if r.Reference, r.Issued = "", ""; needsCertificate(stated.RelativeTo) {
		if err := m.index.makeAbsolute(r, line, stated.RelativeTo); err != nil {
			return how, err
		}
	}
	r.Traits = guard.TraitsOf(r.NM, r.Values)
	return how, nil
}

// takingWith is a way of taking in with something else stated. Its digest is that of no intake.
func takingWith(how study.Taking, stated text.Stated) study.Taking {
	how.Stated = statedWords(&stated)
	how.Digest = sha256.Sum256(append([]byte("moved\x00"+how.Stated+"\x00"), how.Digest[:]...))
	return how
}

// rereader reads kept exports again, each once with the same statements.
type rereader map[rereadKey]*intake.Export

type rereadKey struct{ sha256, stated string }

// export reads the export with this SHA-256, in hexadecimal, with what is stated of it.
func (r rereader) export(v *store.View, sum string, stated text.Stated) (*intake.Export, error) {
	key := rereadKey{sum, statedWords(&stated)}
	if x := r[key]; x != nil {
		return x, nil
	}
	raw, err := hex.DecodeString(sum)
	if err != nil {
		return nil, err
	}
	original, err := v.Original([sha256.Size]byte(raw))
	if err != nil {
		return nil, err
	}
	x, err := intake.Read(original.Name, original.Data, stated)
	if err == nil {
		r[key] = x
	}
	return x, err
}
