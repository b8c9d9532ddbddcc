package main

import (
	"context"
	"errors"
	"os"
	"os/user"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

// studyOptions find the study that a command is about.
type studyOptions struct {
	file string
	cmd  *cobra.Command
}

func (o *studyOptions) bind(cmd *cobra.Command) {
	o.cmd = cmd
	cmd.Flags().StringVar(&o.file, "study", "", "the study file (else WANE_STUDY, else the only .wane file in the folder)")
}

var errNoStudy = errors.New("there is no study in this folder")

// path returns the study file.
func (o *studyOptions) path() (string, error) {
	if o.file != "" {
		return o.file, nil
	}
	if env := os.Getenv("WANE_STUDY"); env != "" {
		return env, nil
	}
	found, err := filepath.Glob("*.wane")
	if err != nil {
		return "", err
	}
	switch len(found) {
	case 0:
		return "", usagef("name a study with --study, or start one: wane new NAME.wane", "%w", errNoStudy)
	case 1:
		return found[0], nil
	}
	return "", usagef("name one of them with --study",
		"this folder has more than one study: %s", strings.Join(found, ", "))
}

// with opens the study, runs do, which may write, and closes it.
func (o *studyOptions) with(ctx context.Context, do func(*desk.Desk) error) error {
	return o.open(ctx, desk.Open, do)
}

// reading is with for a command that only reads: the study may be one that cannot be
// written.
func (o *studyOptions) reading(ctx context.Context, do func(*desk.Desk) error) error {
	return o.open(ctx, desk.OpenToRead, do)
}

// opener is one of the ways to open a study.
type opener = func(context.Context, string, desk.Person) (*desk.Desk, error)

// open opens the study, prints what is to be known of it, runs do and closes it, also if do
// panics.
func (o *studyOptions) open(ctx context.Context, how opener, do func(*desk.Desk) error) (err error) {
	path, err := o.path()
	if err != nil {
		return err
	}
	d, err := how(ctx, path, operator())
	if err != nil {
		return err
	}
	defer func() { err = joinErrors(err, d.Close()) }()
	for _, n := range d.Notes() {
		if err := printLine(o.cmd.ErrOrStderr(), "note %s", n); err != nil {
			return err
		}
	}
	return do(d)
}

// joinErrors returns the errors that there are, each to be said in its two lines.
func joinErrors(err, closing error) error {
	switch {
	case closing == nil:
		return err
	case err == nil:
		return closing
	}
	return &several{[]error{err, closing}}
}

// operator is who works: WANE_OPERATOR, else the user of the machine; and the witness that
// WANE_WITNESS names.
func operator() desk.Person {
	waits := func(what string) { _ = printLine(os.Stderr, "note %s", what) } // a note that cannot be written is lost
	who := desk.Person{Name: os.Getenv("WANE_OPERATOR"), Witness: os.Getenv("WANE_WITNESS"), Waits: waits}
	if who.Name != "" {
		return who
	}
	who.Name = "unknown"
	if u, err := user.Current(); err == nil {
		who.Name = u.Username
	}
	return who
}
