package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/store"
)

// A full batch has a quarter of the exports that are in already, from fewestExports to mostExports. Each
// batch writes again the pages of the study that new rows are sorted into: large batches write fewer.
const (
	fewestExports = 100
	mostExports   = 500
)

// intakeCommitter commits the jobs of an intake.
type intakeCommitter struct {
	ctx     context.Context
	desk    *Desk
	where   *placement
	version int // of the profile in the study; 0: it is not there yet
	given   givenFiles
	out     *TakenIn
}

// newBatch returns the batch of the exports that are taken in. What is committed is counted in out.
// A cancelled context ends no transaction.
func (p *intakePlan) newBatch(ctx context.Context, out *TakenIn, progress Progress) *batch[*exportJob] {
	c := &intakeCommitter{
		ctx: context.WithoutCancel(ctx), desk: p.desk, where: p.placement, version: p.placement.version, out: out,
	}
	return &batch[*exportJob]{
		commit: c.commit,
		size:   func(j *exportJob) (exports, bytes int) { return 1, j.packed.Bytes() },
		fullAt: func(done int) int { return min(max(fewestExports, done/4), mostExports) },
		now:    p.desk.now, lastCommit: p.desk.now(), total: p.total, progress: progress,
	}
}

// commit stores jobs in one transaction. An export that is refused is not stored; the others are.
func (c *intakeCommitter) commit(jobs []*exportJob) error {
	var in TakenIn
	entry, version := c.desk.entry("intake", ""), c.version
	add := func(tx *store.Tx) (err error) {
		in, entry.Summary = TakenIn{}, ""
		if version, err = c.keepProfile(tx, entry, jobs); err != nil {
			return err
		}
		if err := in.add(tx, jobs); err != nil {
			return err
		}
		if version != c.version && in.Files == 0 {
			return errUnused
		}
		entry.Summary = fmt.Sprintf("took in %s with %s%s", amount(in.Files, "export"), amount(in.Curves, "curve"), entry.Summary)
		return nil
	}
	var err error
	if slices.ContainsFunc(jobs, (*exportJob).isNew) {
		if len(c.given) == 0 {
			if c.given, err = c.where.givenMap(c.desk.store); err != nil {
				return err
			}
		}
		err = c.desk.write(c.ctx, entry, func(tx *store.Tx) error {
			if err := add(tx); err != nil {
				return err
			}
			return c.given.keep(tx)
		})
	} else {
		err = add(nil)
	}
	switch {
	case err == nil:
		c.version = version
	case !errors.Is(err, errUnused):
		return err
	}
	c.out.merge(&in)
	return nil
}

// errUnused undoes a transaction that would keep a profile by which nothing was taken in.
var errUnused = errors.New("the profile was not used")

// keepProfile stores the profile if something new is taken in by it, and returns its version in the
// study.
func (c *intakeCommitter) keepProfile(
	tx *store.Tx, entry *study.Entry, jobs []*exportJob,
) (version int, err error) {
	version = c.version
	for _, j := range jobs {
		if version == 0 && j.isNew() && j.how.Profile != "" {
			p, added := c.where.profile, false
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

// add stores the new ones among jobs, and counts all.
func (in *TakenIn) add(tx *store.Tx, jobs []*exportJob) error {
	var pending []store.PendingExport
	for _, j := range jobs {
		if j.isNew() {
			pending = append(pending, store.PendingExport{Packed: j.packed, How: j.how})
		}
	}
	outcomes, err := tx.AddAll(pending)
	if err != nil {
		return err
	}
	for _, j := range jobs {
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

// count counts a job that was not known, by its outcome.
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
