package main

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/protocols"
	"wane/study"
	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/difference"
	"wane/study/evaluate"
	"wane/study/guard"
	"wane/study/scenario"
	"wane/study/shape"
)

// update writes the files that tests of this package compare with, instead of comparing:
// go test ./cmd/wane -update.
var update = flag.Bool("update", false, "write golden outputs and the tables of the guide anew")

// guideTables makes the tables of the guide from the code that decides what they say, by the names
// that stand in the pages.
func guideTables(t *testing.T) map[string]string {
	delimited, jcamp := dialectTables(t)
	return map[string]string{
		"columns":    columnsTable(),
		"quantities": quantitiesTable(),
		"states":     statesTable(),
		"flags":      flagsTable(evaluate.Flags()),
		"guards":     guardsTable(),
		"law":        lawTable(t),
		"dialects":   delimited,
		"jcamp":      jcamp,
		"protocols":  protocolsTable(),
		"rule":       ruleTable(),
		"attention":  attentionTable(),
		"trendflags": flagsTable(shape.Flags()),
		"pairs":      flagsTable(difference.Flags()),
		"plan":       "    " + strings.ReplaceAll(strings.TrimSpace(scenario.Example()), "\n", "\n    ") + "\n",
		"errors":     errorsTable(),
	}
}

// errorsTable says what the errors of made-up studies are if a plan states nothing.
func errorsTable() string {
	var rows [][]string
	for _, w := range scenario.ErrorWords() {
		rows = append(rows, []string{code(w.Name), w.About, fmt.Sprint(w.Default)})
	}
	return markdown([]string{"error", "standard deviation", "left out"}, rows)
}

// markdown makes a table of its head and its rows.
func markdown(head []string, rows [][]string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "| %s |\n|%s\n", strings.Join(head, " | "), strings.Repeat("---|", len(head)))
	for _, row := range rows {
		fmt.Fprintf(&b, "| %s |\n", strings.Join(row, " | "))
	}
	return b.String()
}

func attentionTable() string {
	var rows [][]string
	for _, w := range desk.AttentionWords() {
		word := code(w.Word)
		if strings.HasSuffix(w.Word, ":") {
			word = code(w.Word + "SPOT")
		}
		if w.Word == desk.AttentionAngle {
			word = code(w.Word + "SPOT@ANGLE")
		}
		rows = append(rows, []string{word, w.Meaning, w.Remedy})
	}
	return markdown([]string{"word", "meaning", "what helps"}, rows)
}

func code(word string) string { return "`" + word + "`" }

// columnsTable says what the columns of results mean, without those of uncertainties.
func columnsTable() string {
	var rows [][]string
	for _, c := range study.Columns() {
		if !strings.HasPrefix(c.Name, "u_") {
			rows = append(rows, []string{code(c.Name), dash(c.Unit), c.About})
		}
	}
	return markdown([]string{"column", "unit", "meaning"}, rows)
}

func quantitiesTable() string {
	var rows [][]string
	for _, q := range study.Measurands() {
		most := ""
		if !math.IsInf(q.Most, 1) {
			most = fmt.Sprint(q.Most)
		}
		rows = append(rows, []string{code(q.Name), code(q.Unit), fmt.Sprint(q.Least), most})
	}
	return markdown([]string{"`quantity`", "`unit`", "from", "to"}, rows)
}

// guardsTable says of each guard what looks wrong, what to do, and from where on it holds.
func guardsTable() string {
	var rows [][]string
	for _, g := range guard.Kinds() {
		rows = append(rows, []string{code(g.Form()), sentence(g.Meaning) + " " + sentence(g.Remedy), g.Limit})
	}
	return markdown([]string{"guard", "what looks wrong, and what to do", "held when (limit)"}, rows)
}

func ruleTable() string {
	var rows [][]string
	for _, k := range acceptance.Keys() {
		about := k.About
		if k.Default != "" {
			about += " Default: `" + k.Default + "`."
		}
		rows = append(rows, []string{"`" + k.Name + "`", about})
	}
	return markdown([]string{"line", "what it says"}, rows)
}

func protocolsTable() string {
	var rows [][]string
	for _, p := range protocols.Library() {
		doses := "-"
		if len(p.Pulls) > 0 {
			doses = strings.Join(dosesWritten(p.Pulls), ", ") + " " + p.DoseUnit
		}
		rows = append(rows, []string{code(p.Name), p.Title, doses, p.Basis})
	}
	return markdown([]string{"protocol", "what it is", "pulls at", "basis"}, rows)
}

func statesTable() string {
	var rows [][]string
	for _, s := range evaluate.States() {
		rows = append(rows, []string{code(s.Form()), s.Meaning, s.Limit, s.Remedy})
	}
	return markdown([]string{"state", "meaning", "when (the first that applies)", "what to do"}, rows)
}

func flagsTable(flags []study.Term) string {
	var rows [][]string
	for _, f := range flags {
		meaning := sentence(f.Meaning)
		if f.Limit != "" {
			meaning += " Limit: " + f.Limit + "."
		}
		rows = append(rows, []string{code(f.Form()), meaning, sentence(f.Remedy)})
	}
	return markdown([]string{"flag", "meaning", "what to do"}, rows)
}

// lawTable says what a fit takes to be known beforehand of a coupon of float glass with a matched far face, by owner.
func lawTable(t *testing.T) string {
	setup, err := evaluate.CouponSetup(&study.Coupon{Glass: "soda-lime", GlassMM: study.Null(), Back: "matched"},
		"bruggeman", nil)
	require.NoError(t, err)
	var rows [][]string
	effects := film.Law(&setup)
	for owner := range film.OwnerJoint {
		for _, e := range effects {
			if e.Owner == owner {
				known := fmt.Sprintf("%.4g ± %g", e.Mean, e.U)
				if e.U == 0 {
					known, e.Unit = "as enrolled", ""
				}
				rows = append(rows, []string{owner.String(), e.Term, code(e.Name), strings.TrimSpace(known + " " + e.Unit)})
			}
		}
	}
	return markdown([]string{"owner", "effect", "name", "known beforehand"}, rows)
}

// sentence gives a text in the voice of messages a capital and a full stop, unless it begins with
// the name of a command.
func sentence(text string) string {
	if strings.HasPrefix(text, "wane ") {
		return text + "."
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// dialectTables takes the tables out of the README of the reader, which its tests compare with what
// it does, without the names of these tests.
func dialectTables(t *testing.T) (delimited, jcamp string) {
	page, err := os.ReadFile("../../study/intake/README.md")
	require.NoError(t, err)
	_, text, found := strings.Cut(string(page), "\n## Delimited text\n\n")
	require.True(t, found)
	delimited, jcamp, found = strings.Cut(text, "\n## JCAMP-DX\n")
	require.True(t, found)
	_, jcamp, found = strings.Cut(jcamp, "\n\n|")
	require.True(t, found)
	lastCell := regexp.MustCompile(`(?m)^(\|.*\|)[^|\n]*\|$`)
	withoutTests := func(text string) string { return lastCell.ReplaceAllString(strings.TrimSpace(text), "$1") + "\n" }
	return withoutTests(delimited), withoutTests("|" + jcamp)
}

var tablePlace = regexp.MustCompile(`(?s)<!-- table: (\S+) -->\n.*?<!-- end -->\n`)

// The tables of the guide say what the code says. go generate ./cmd/wane writes them.
func TestTablesOfTheGuide(t *testing.T) {
	tables, used := guideTables(t), map[string]bool{}
	for _, topic := range guideTopics() {
		page, _ := guidePage(topic)
		filled := tablePlace.ReplaceAllStringFunc(page, func(place string) string {
			name := tablePlace.FindStringSubmatch(place)[1]
			require.Contains(t, tables, name, "%s: no such table", topic)
			used[name] = true
			return "<!-- table: " + name + " -->\n" + tables[name] + "<!-- end -->\n"
		})
		if *update {
			require.NoError(t, os.WriteFile(filepath.Join("guide", topic+".md"), []byte(filled), 0o644))
			continue
		}
		assert.Equal(t, filled, page, "%s.md is older than the code: go generate ./cmd/wane", topic)
	}
	assert.Len(t, used, len(tables))
}

// Every topic has a page with a title, which help prints and lists; none has the name of a command.
func TestTopicsAreListedAndAreNoCommands(t *testing.T) {
	code, list, stderr := wane(t, "help")
	require.Equal(t, exitDone, code, stderr)
	for _, topic := range []string{"rosters", "map", "profiles", "guards", "sessions", "measurements", "reading-results",
		"changes", "provenance", "studyfile", "exports", "protocols", "bench"} {
		assert.Contains(t, guideTopics(), topic)
	}
	for _, topic := range guideTopics() {
		assert.Regexp(t, `(?m)^  `+topic+` +[A-Z]`, list)
		for _, cmd := range newRootCommand().Commands() {
			assert.NotEqual(t, cmd.Name(), topic)
		}
		code, page, stderr := wane(t, "help", topic)
		require.Equal(t, exitDone, code, stderr)
		assert.NotContains(t, page, "<!--", topic)
	}
}

// The help of a command names topics that there are, and every command that has some is there.
func TestHelpPointsToTheGuide(t *testing.T) {
	for command, topics := range pagesFor {
		code, help, stderr := wane(t, command, "--help")
		require.Equal(t, exitDone, code, stderr)
		for _, topic := range topics {
			assert.Contains(t, guideTopics(), topic)
			assert.Contains(t, help, "wane help "+topic)
		}
	}
}

// A wrong topic is refused with what may have been meant.
func TestHelpOfAnUnknownTopic(t *testing.T) {
	for word, near := range map[string]string{"roster": "did you mean rosters?", "guads": "did you mean guards?",
		"resuts": "did you mean results?", "zzzzzz": "see commands and topics: wane help"} {
		code, stdout, stderr := wane(t, "help", word)
		assert.Equal(t, exitUsage, code)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr, near)
	}
}

// No line of a page is wider than a terminal of 100 columns.
func TestPagesFitATerminal(t *testing.T) {
	for _, topic := range guideTopics() {
		_, page, _ := wane(t, "help", topic)
		for line := range strings.Lines(page) {
			assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), 100, "%s: %s", topic, line)
		}
	}
}

func TestPlainPage(t *testing.T) {
	assert.Equal(t, "1. one\n2. two words\n   more\n", plainPage("1. one\n2. two words\n   more\n", 12))
	page := "# One\n\nA **bold** word\nand `two 2`.\n\n- an item that is long\n- two\n\n" +
		"    code   stays\n\n<!-- table: x -->\n" +
		"| a | b |\n|---|---|\n| c | six or seven words |\n<!-- end -->\n"
	assert.Equal(t, "One\n===\n\nA bold word and\n`two 2`.\n\n- an item that\n  is long\n- two\n\n    code   stays\n\n"+
		"a  b\nc  six or seven\n   words\n", plainPage(page, 16))
}

// Every command that a page or the README shows is one of ours, with flags that it has.
func TestCommandsOfTheGuideExist(t *testing.T) {
	pages := map[string]string{}
	for _, topic := range guideTopics() {
		pages[topic], _ = guidePage(topic)
	}
	shown := 0
	for topic, page := range pages {
		for _, line := range commandLines(page) {
			shown++
			requireParses(t, topic, line)
		}
	}
	assert.Greater(t, shown, 20)
}

var commandLine = regexp.MustCompile(`(?m)^    (?:\./wane|wane|go run \./cmd/wane) (.*)$`)

// commandLines returns the arguments of the command lines of wane in a text, without comments and
// without what a shell does with the output.
func commandLines(text string) (lines []string) {
	for _, m := range commandLine.FindAllStringSubmatch(text, -1) {
		line, _, _ := strings.Cut(m[1], " #")
		line, _, _ = strings.Cut(line, " > ")
		line, _, _ = strings.Cut(line, " && ")
		lines = append(lines, strings.TrimSpace(line))
	}
	return lines
}

// shellWords splits a command line at spaces, but within single quotation marks.
func shellWords(line string) (words []string) {
	for i, part := range strings.Split(line, "'") {
		if i%2 == 1 {
			words = append(words, part)
			continue
		}
		words = append(words, strings.Fields(part)...)
	}
	return words
}

func requireParses(t *testing.T, topic, line string) {
	root := newRootCommand()
	cmd, rest, err := root.Find(shellWords(line))
	require.NoError(t, err, "%s: %s", topic, line)
	require.NotSame(t, root, cmd, "%s: %s", topic, line)
	require.NoError(t, cmd.ParseFlags(rest), "%s: %s", topic, line)
	require.NoError(t, argsFit(cmd), "%s: %s", topic, line)
}

// argsFit asks a command whose flags are parsed whether it takes its other arguments.
func argsFit(cmd *cobra.Command) error { return cmd.ValidateArgs(cmd.Flags().Args()) }
