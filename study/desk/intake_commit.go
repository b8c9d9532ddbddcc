package desk

import (
	"context"
	"errors"
	"fmt"
	"time"

	"wane/study"
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
