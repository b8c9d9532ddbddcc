package main

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
)

// guidePages holds the pages of the guide: the page of a topic is guide/TOPIC.md. The tables in
// them that code decides are written by go generate.
//
//go:embed guide/*.md
var guidePages embed.FS

//go:generate go test -run TestTablesOfTheGuide . -update

// guideTopics returns the topics in the order of the alphabet.
func guideTopics() []string {
	pages, err := fs.Glob(guidePages, "guide/*.md")
	if err != nil {
		panic(err) // the pattern is wrong
	}
	topics := make([]string, len(pages))
	for i, page := range pages {
		topics[i] = strings.TrimSuffix(strings.TrimPrefix(page, "guide/"), ".md")
	}
	return topics
}

// guidePage returns the page of a topic as it is written, and whether there is one.
func guidePage(topic string) (string, bool) {
	page, err := guidePages.ReadFile("guide/" + topic + ".md")
	return string(page), err == nil
}

// listTopics is the list of topics with the titles of their pages.
func listTopics() string {
	var list strings.Builder
	list.WriteString("\nTopics of the guide (wane help TOPIC):\n")
	for _, topic := range guideTopics() {
		page, _ := guidePage(topic)
		title, _, _ := strings.Cut(strings.TrimPrefix(page, "# "), "\n")
		fmt.Fprintf(&list, "  %-16s  %s\n", topic, title)
	}
	return list.String()
}

// helpOf prints the page of a topic of the guide or the help of the command that args name.
// Without args it prints the help of wane and the topics.
func helpOf(cmd *cobra.Command, args []string) error {
	if len(args) == 1 {
		if page, found := guidePage(args[0]); found {
			to := pageOf(cmd)
			width := guideWidth
			if to.width > 0 {
				width = min(to.width, guideWidth)
			}
			_, err := fmt.Fprint(to, plainPage(page, width))
			return err
		}
	}
	named, rest, err := cmd.Root().Find(args)
	if err != nil || len(rest) > 0 {
		return usagef(study.DidYouMean(args[0], append(commandNames(cmd.Root()), guideTopics()...),
			"see commands and topics: wane help"),
			"there is no command and no topic %q", strings.Join(args, " "))
	}
	if err := named.Help(); err != nil || named.HasParent() {
		return err
	}
	_, err = fmt.Fprint(cmd.OutOrStdout(), listTopics())
	return err
}

// pagesFor names the topics that say more of a command.
var pagesFor = map[string][]string{
	"quick":    {"one-spot", "exports", "reading-results", "transmittance", "predicted-films"},
	"plan":     {"angles"},
	"predict":  {"predicted-films", "model"},
	"new":      {"routes", "studyfile", "protocols", "open-formats"},
	"enrol":    {"rosters", "sessions", "protocols"},
	"intake":   {"map", "exports", "profiles"},
	"profile":  {"profiles"},
	"protocol": {"protocols"},
	"rule":     {"acceptance"},
	"sheet":    {"bench", "protocols"},
	"review":   {"guards"},
	"amend":    {"corrections"},
	"measure":  {"measurements"},
	"fit":      {"model", "guards", "routes"},
	"results":  {"reading-results", "reading-figures", "changes", "routes", "transmittance", "keeping"},
	"check":    {"sessions"},
	"status":   {"keeping"},
	"due":      {"keeping"},
	"trace":    {"provenance", "reading-figures"},
	"serve":    {"study-pages"},
	"export":   {"open-formats", "provenance", "predicted-films"},
	"report":   {"reports"},
	"log":      {"provenance"},
	"verify":   {"provenance", "studyfile"},
	"backup":   {"studyfile"},
}

// pointToGuide adds the topics that say more to the help of each command.
func pointToGuide(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		if topics := pagesFor[cmd.Name()]; len(topics) > 0 {
			more := "More in the guide: wane help " + strings.Join(topics, ", wane help ") + "."
			cmd.Long = strings.TrimSuffix(cmd.Long, "\n") + "\n\n" + more
		}
	}
}
