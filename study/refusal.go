package study

import (
	"errors"
	"fmt"
	"strings"
)

// Refusal says why a file was not taken in or an act not done, at which place, and what
// the person can try. The command prints it as two lines: place and fault, then what to
// try.
//
// A refusal is not changed once it is made, since others may keep it. [Refusal.About] and
// [Refusal.At] return a changed copy.
type Refusal struct {
	File   string // the file concerned, if there is one
	Line   int    // counting from 1; 0: the whole file
	Column int    // character position in the line, from 1; 0: the whole line
	Fault  string // what is wrong, lower case, no full stop
	Try    string // what to do about it, lower case, no full stop
	Cause  error  // the error underneath, may be nil

	// Choices are answers, each of which settles the refusal. Try names them too. A
	// program that can ask a person offers them. Mostly empty.
	Choices []Choice
}

// Choice is one answer to a question that a file leaves open.
type Choice struct {
	Name    string // what is stated: the flag without its dashes, the line of a profile
	Value   string // or empty if the person writes it
	Meaning string // in words
}

// Error returns the place, the fault and the cause in one line. The cause is not repeated
// if the fault ends with its text. A file name with characters that hide something is quoted.
func (r *Refusal) Error() string {
	var b strings.Builder
	if r.File != "" {
		b.WriteString(Shown(r.File))
		if r.Line > 0 {
			fmt.Fprintf(&b, ":%d", r.Line)
			if r.Column > 0 {
				fmt.Fprintf(&b, ":%d", r.Column)
			}
		}
		b.WriteString(": ")
	}
	b.WriteString(r.Fault)
	if r.Cause != nil && !strings.HasSuffix(r.Fault, r.Cause.Error()) {
		fmt.Fprintf(&b, ": %v", r.Cause)
	}
	return b.String()
}

// Unwrap returns the cause.
func (r *Refusal) Unwrap() error { return r.Cause }

// About returns a copy of r with what before its fault: the thing that the fault concerns.
func (r *Refusal) About(what string) *Refusal {
	about := *r
	about.Fault = what + ": " + r.Fault
	return &about
}

// At returns a copy of r with another place; line 0 is the whole file.
func (r *Refusal) At(file string, line int) *Refusal {
	at := *r
	at.File, at.Line = file, line
	return &at
}

// TryFiles is what to try if too few files can be opened.
const TryFiles = "raise the limit of open files, as with `ulimit -n 1024`, or use fewer workers, and run the " +
	"command again (a shell whose limit was lowered cannot always raise it: open a new one)"

// Failure reports that the study file, or the disk with it, failed: it is damaged, or cannot
// be read or written now. It has the fields of a [Refusal] but is none. A refusal is an
// answer that may be noted while the work continues. A failure is no answer and ends the
// work.
type Failure Refusal

// Error returns the place and the fault in one line.
func (f *Failure) Error() string { return (*Refusal)(f).Error() }

// Unwrap returns the cause.
func (f *Failure) Unwrap() error { return f.Cause }

// Refusals are all that is wrong with one thing, at least one.
type Refusals []*Refusal

// Error returns the place and the fault of each.
func (r Refusals) Error() string {
	lines := make([]string, len(r))
	for i := range r {
		lines[i] = r[i].Error()
	}
	return strings.Join(lines, "; ")
}

// Unwrap returns each.
func (r Refusals) Unwrap() []error {
	all := make([]error, len(r))
	for i := range r {
		all[i] = r[i]
	}
	return all
}

// Note adds the refusal that err is, or those that it is, and reports whether it did.
func (r *Refusals) Note(err error) bool {
	var many Refusals
	var one *Refusal
	switch {
	case errors.As(err, &many):
		*r = append(*r, many...)
	case errors.As(err, &one):
		*r = append(*r, one)
	default:
		return false
	}
	return true
}

// Err returns the refusals as an error: nil for none, and a single one by itself.
func (r Refusals) Err() error {
	switch len(r) {
	case 0:
		return nil
	case 1:
		return r[0]
	}
	return r
}
