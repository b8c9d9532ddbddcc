package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"wane/study"
	"wane/study/intake/text"
)

// readingOptions say how exports are read, beyond what a command binds itself.
type readingOptions struct {
	ask, explain bool
}

// bind binds a flag for everything that can be stated about exports.
func (o *readingOptions) bind(cmd *cobra.Command, stated *text.Stated) {
	words := map[string][]string{}
	for _, a := range stated.Answers() {
		cmd.Flags().StringVar(a.To, a.Name, "", a.Usage)
		if a.Words != nil {
			words[a.Name] = a.Words
		}
	}
	cmd.Flags().BoolVar(&o.ask, "ask", false,
		"ask on the terminal if an export leaves a question open; quick also asks for the angle")
	cmd.Flags().BoolVar(&o.explain, "explain", false,
		"show what is found in each export and why it is read so; do nothing else")
	completeWords(cmd, words)
}

// check says in the words of the command line what is stated wrongly, before any
// file is read.
func (o *readingOptions) check(cmd *cobra.Command, stated text.Stated) error {
	var wrong *study.Refusal
	if err := stated.Check(); errors.As(err, &wrong) {
		return usagef(wrong.Try, "%s", wrong.Fault)
	}
	if o.ask && o.explain {
		return usagef("leave one of them out", "--ask and --explain cannot be used together")
	}
	if o.ask && !isTerminal(cmd.InOrStdin()) {
		return usagef("give the answers as flags, or run the command on a terminal", "--ask needs a terminal")
	}
	return nil
}

func isTerminal(in io.Reader) bool {
	f, ok := in.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// asker offers the answers that settle a refusal. A nil asker asks nothing.
type asker struct {
	in  *bufio.Reader
	out io.Writer
	ctx context.Context // when it is done, nobody is asked any more
}

// asker returns who asks, nil unless --ask was stated.
func (o *readingOptions) asker(cmd *cobra.Command) *asker {
	if !o.ask {
		return nil
	}
	return &asker{bufio.NewReader(cmd.InOrStdin()), cmd.ErrOrStderr(), cmd.Context()}
}

// settle asks what a refusal leaves open and adds the answer to what is stated. It
// returns err itself if nothing can be asked, or if the person does not answer.
func (a *asker) settle(err error, stated *text.Stated) error {
	var r *study.Refusal
	if a == nil || !errors.As(err, &r) || len(r.Choices) == 0 {
		return err
	}
	fmt.Fprintln(a.out, study.OneLine(err.Error()))
	for i, c := range r.Choices {
		fmt.Fprintln(a.out, study.OneLine(fmt.Sprintf("  %d  --%s %s: %s", i+1, c.Name, orName(c.Value), c.Meaning)))
	}
	for {
		line, ok := a.line(fmt.Sprintf("which one, 1 to %d (empty: no answer)? ", len(r.Choices)))
		if !ok {
			return a.unanswered(err)
		}
		k, wrong := strconv.Atoi(line)
		if wrong != nil || k < 1 || k > len(r.Choices) {
			fmt.Fprintf(a.out, "%q is not one of the numbers\n", line)
			continue
		}
		c := r.Choices[k-1]
		if c.Value == "" {
			if c.Value, ok = a.line(c.Name + "? "); !ok {
				return a.unanswered(err)
			}
		}
		if err := stated.Set(c.Name, c.Value); err != nil {
			return err
		}
		fmt.Fprintln(a.out,
			study.OneLine(fmt.Sprintf("%s is read with --%s %s", study.Shown(r.File), c.Name, quotedWord(c.Value))))
		return nil
	}
}

// angles asks for the angle of incidence of each curve whose export does not say it. What
// is not answered stays unknown.
func (a *asker) angles(spectra []study.Spectrum) {
	for i := range spectra {
		s := &spectra[i]
		if a == nil || !math.IsNaN(s.AngleDeg) || s.Quantity != study.Reflectance {
			continue
		}
		fmt.Fprintf(a.out, "%s: the angle of incidence of column %d (%q) is not stated\n", study.Shown(s.File), s.Column,
			s.Heading)
		for {
			text, ok := a.line("angle in degrees from the normal (empty: no answer)? ")
			if !ok {
				break
			}
			given, err := degrees("angle", text)
			if err != nil || len(given) != 1 {
				fmt.Fprintf(a.out, "%q is not an angle from 0 to below 90 degrees\n", text)
				continue
			}
			s.AngleDeg = given[0]
			fmt.Fprintf(a.out, "column %d of %s is read as --angle %g\n", s.Column, study.Shown(s.File), s.AngleDeg)
			break
		}
	}
}

// unanswered returns why there is no answer: err, or that the person wants to stop.
func (a *asker) unanswered(err error) error { return cmp.Or(a.ctx.Err(), err) }

// line asks for a line; ok is false if it is empty or there is none.
func (a *asker) line(prompt string) (text string, ok bool) {
	if a.ctx.Err() != nil {
		return "", false
	}
	fmt.Fprint(a.out, prompt)
	typed := make(chan string, 1) // closed without a line if there is none
	go func() {                   // a person is waited for without an end
		defer close(typed)
		if text, err := a.in.ReadString('\n'); err == nil || text != "" {
			typed <- strings.TrimSpace(text)
		}
	}()
	select {
	case text, ok = <-typed:
	case <-a.ctx.Done():
	}
	if !ok {
		fmt.Fprintln(a.out)
	}
	return text, text != ""
}

func orName(value string) string {
	if value == "" {
		return "NAME"
	}
	return quotedWord(value)
}

// quotedWord writes a value as a shell takes it.
func quotedWord(value string) string {
	if strings.ContainsAny(value, " \t'\"$\\") {
		return "'" + strings.ReplaceAll(value, "'", `'\''`) + "'"
	}
	return value
}
