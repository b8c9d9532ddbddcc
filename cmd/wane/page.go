package main

import (
	"io"
	"os"
	"strconv"

	pretty "github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"wane/study"
	"wane/study/guard"
	"wane/study/shown"
)

// screen is what is known of the place where a text appears.
type screen struct {
	width    int  // in cells; 0: no limit
	colour   bool // it shows colour
	terminal bool // a person looks at it
}

// screenOf looks at a stream. Only a terminal has a width and colour, unless COLUMNS states a
// width; NO_COLOR, if it is not empty, takes the colour away (no-color.org).
func screenOf(w io.Writer) (s screen) {
	f, ok := w.(*os.File)
	if ok && term.IsTerminal(int(f.Fd())) {
		s.terminal = true
		s.colour = os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
		if width, _, err := term.GetSize(int(f.Fd())); err == nil {
			s.width = width
		}
	}
	if n, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && n > 0 {
		s.width = n
	}
	return s
}

// page is where a command prints: a stream, and what is known of the screen behind it.
type page struct {
	io.Writer
	screen
}

// pageOf returns the page of a command's stdout.
func pageOf(cmd *cobra.Command) page {
	w := cmd.OutOrStdout()
	if s, ok := w.(*spool); ok {
		return page{w, s.screen}
	}
	return page{Writer: w}
}

// plain is no colour.
const plain = pretty.Reset

// painted is a text in a colour.
func painted(s string, c pretty.Color) string {
	if c == plain {
		return s
	}
	return c.EscapeSeq() + s + plain.EscapeSeq()
}

// stateColours are the colours of words that say how a spot, a session or a reading stands.
// The words say it without them, too.
var stateColours = map[string]pretty.Color{
	string(study.Full):     pretty.FgGreen,
	string(study.Thinned):  pretty.FgYellow,
	string(study.Patchy):   pretty.FgYellow,
	string(study.Stripped): pretty.FgRed,
	string(study.Unclear):  pretty.FgMagenta,

	string(guard.InControl):   pretty.FgGreen,
	string(guard.OutOfLimits): pretty.FgRed,
	shown.Trusted:             pretty.FgGreen,
	shown.NotToTrust:          pretty.FgRed,

	string(study.Held):  pretty.FgYellow,
	study.Aside.Words(): pretty.FgYellow,
}

// stateColour is the colour of a word that says how something stands.
func stateColour(word string) pretty.Color {
	if c, known := stateColours[word]; known {
		return c
	}
	return plain
}
