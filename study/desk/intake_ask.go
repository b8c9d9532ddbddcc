package desk

import (
	"context"
	"errors"

	"wane/study"
	"wane/study/intake/text"
)

// Asking says how a person answers the questions that exports leave open.
type Asking struct {
	// Ask asks the question of a refusal and adds the answer to stated. Without an answer it returns an
	// error.
	Ask func(refused *study.Refusal, stated *text.Stated) error

	// SaveAs is the name of a profile. The answers by which the first export could be read are kept in it,
	// and it answers for the exports after that one. Empty: each export is asked about.
	SaveAs string
}

// AskRefused asks about each file that an intake refused with a question, until the file is taken in or
// a question is not answered. mapFile and opt are those of the intake. What is taken in is added to in,
// and in.Refused are the files that are still refused. saved is the profile that keeps the answers, nil
// if none was saved.
func (d *Desk) AskRefused(
	ctx context.Context, mapFile string, in *TakenIn, how Asking, opt IntakeOptions,
) (saved *KeptProfile, err error) {
	opt.Progress = nil
	refused := in.Refused
	in.Refused = nil
	for i, fault := range refused {
		answered, read, err := d.askUntilRead(ctx, mapFile, in, fault, how, opt)
		if err != nil {
			return nil, err
		}
		if read && how.SaveAs != "" {
			kept, err := d.SaveAnswers(ctx, how.SaveAs, answered)
			if err != nil {
				return nil, err
			}
			opt.Profile = how.SaveAs
			return &kept, d.takeInRefused(ctx, mapFile, in, refused[i+1:], opt)
		}
	}
	return nil, nil
}

// askUntilRead asks about one refused file. It returns what was answered, and whether the file is taken
// in now; if it is not, its refusal is in in.Refused.
func (d *Desk) askUntilRead(
	ctx context.Context, mapFile string, in *TakenIn, fault error, how Asking, opt IntakeOptions,
) (answered text.Stated, read bool, err error) {
	for {
		asked := questionOf(fault)
		unanswered := asked == nil || how.Ask(asked, &opt.Stated) != nil
		if err := ctx.Err(); err != nil {
			return opt.Stated, false, err
		}
		if unanswered {
			in.Refused = append(in.Refused, fault)
			return opt.Stated, false, nil
		}
		more, err := d.Intake(ctx, mapFile, []string{asked.File}, opt)
		if err != nil {
			return opt.Stated, false, err
		}
		refused := more.Refused
		more.Refused = nil
		in.merge(more)
		if len(refused) == 0 {
			return opt.Stated, true, nil
		}
		fault = refused[0]
	}
}

// takeInRefused takes the files in that were refused with a question, with what opt answers now. The
// other files stay refused.
func (d *Desk) takeInRefused(
	ctx context.Context, mapFile string, in *TakenIn, refused []error, opt IntakeOptions,
) error {
	for _, fault := range refused {
		asked := questionOf(fault)
		if asked == nil {
			in.Refused = append(in.Refused, fault)
			continue
		}
		more, err := d.Intake(ctx, mapFile, []string{asked.File}, opt)
		if err != nil {
			return err
		}
		in.merge(more)
	}
	return nil
}

// questionOf returns the refusal of a file that leaves a question open, nil if there is none.
func questionOf(fault error) *study.Refusal {
	var r *study.Refusal
	if !errors.As(fault, &r) || len(r.Choices) == 0 {
		return nil
	}
	return r
}

// merge adds what a later intake did. A reading that one of them held and the other released has not
// changed.
func (in *TakenIn) merge(later *TakenIn) {
	changes := GuardChanges{Held: in.Held, Released: in.Released}.followedBy(
		&GuardChanges{Held: later.Held, Released: later.Released, Waiting: later.Waiting})
	in.Held, in.Released, in.Waiting = changes.Held, changes.Released, changes.Waiting
	in.Files += later.Files
	in.Curves += later.Curves
	in.Known += later.Known
	in.Skipped += later.Skipped
	in.Refused = append(in.Refused, later.Refused...)
	in.Notes = append(in.Notes, later.Notes...)
	in.FileNotes = append(in.FileNotes, later.FileNotes...)
}
