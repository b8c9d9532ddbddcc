package desk

import (
	"context"
	"encoding/hex"
	"fmt"
	"strings"

	"wane/study"
)

const tryHistory = "find out who changed what: keep this file as it is, and compare it with a verified backup"

// compareHistory compares the chain of the log with what was noted elsewhere: a hash, a backup and the
// witness.
func (d *Desk) compareHistory(ctx context.Context, opt VerifyOptions, out *Verified) error {
	heads, err := d.store.Heads(ctx)
	if err != nil {
		return err
	}
	if opt.Contains != "" {
		out.findHash(heads, opt.Contains)
	}
	if opt.Against != "" {
		theirs, err := d.store.HeadsOf(ctx, opt.Against)
		if err != nil {
			return err
		}
		out.compareWithBackup(heads, theirs, opt.Against)
	}
	if !d.store.Witnessed() {
		return nil
	}
	t, err := d.store.CompareWitness(ctx)
	if err != nil {
		return err
	}
	for _, f := range t.Findings {
		out.contradict(tryHistory, "%s", f)
	}
	switch {
	case t.Lines == 0 && t.Others > 0:
		out.note("the witness names no study of this path; %d of its lines, of a study elsewhere, are in this history",
			t.Others)
	case t.Lines == 0:
		out.note("the witness has nothing of this study: it shows nothing")
	default:
		out.note("the witness names this study in %d lines, up to line %d of the history; lines after that: %d",
			t.Lines, t.Last, t.Behind)
	}
	return nil
}

// findHash searches the hashes of the log for a hash, or for the beginning of one.
func (v *Verified) findHash(heads []study.Entry, hash string) {
	for _, h := range heads {
		if strings.HasPrefix(hex.EncodeToString(h.Hash[:]), strings.ToLower(hash)) {
			v.note("the history contains %s: line %d, of %s", hash, h.Number, h.At)
			return
		}
	}
	v.contradict(tryHistory,
		"no line of the history has the hash %s: this is not the history of which it was noted, or not that far", hash)
}

// compareWithBackup compares the log with that of a backup.
func (v *Verified) compareWithBackup(ours, theirs []study.Entry, backup string) {
	for i := range min(len(ours), len(theirs)) {
		if ours[i].Number != theirs[i].Number || ours[i].Hash != theirs[i].Hash {
			v.contradict(tryHistory,
				"the history is different from that of %s from line %d on: %s in that file, %s in the study",
				backup, theirs[i].Number, describeEntry(theirs[i]), describeEntry(ours[i]))
			return
		}
	}
	if len(theirs) > len(ours) {
		v.contradict(tryHistory, "the history ends with line %d, and that of %s has %d lines, the last one %s",
			len(ours), backup, len(theirs), describeEntry(theirs[len(theirs)-1]))
		return
	}
	v.note("all %d lines of the history of %s are in this one, which has %d more",
		len(theirs), backup, len(ours)-len(theirs))
}

// describeEntry says what a line of the log is of.
func describeEntry(e study.Entry) string {
	return fmt.Sprintf("%s by %s at %s", e.Verb, e.Who, e.At)
}

// note adds a note.
func (v *Verified) note(format string, args ...any) {
	v.Notes = append(v.Notes, fmt.Sprintf(format, args...))
}

// contradict adds a contradiction.
func (v *Verified) contradict(try, format string, args ...any) {
	v.Contradictions = append(v.Contradictions, &study.Refusal{Fault: fmt.Sprintf(format, args...), Try: try})
}
