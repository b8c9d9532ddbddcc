package web

import (
	"html/template"
	"regexp"
	"strings"
)

// verbs are the commands that pages do as well, with their pages.
func verbs() map[string]entry {
	return map[string]entry{
		"amend": {Name: "Correct rows", At: amendAt}, "check": {Name: "Sessions", At: sessionsAt},
		"compare": {Name: "Compare coatings", At: compareAt}, "due": {Name: "What is due", At: todayAt + "#due"},
		"enrol": {Name: "Enrol", At: enrolAt}, "fit": {Name: "Fit", At: fitAt}, "intake": {Name: "Take in", At: intakeAt},
		"log": {Name: "Log", At: logAt}, "measure": {Name: "Measurements", At: measureAt},
		"move": {Name: "Move readings", At: moveAt}, "report": {Name: "Report", At: reportAt},
		"results": {Name: "Coupons", At: couponsAt}, "review": {Name: "Judge", At: judgeAt},
		"rule": {Name: "Rules", At: rulesAt}, "status": {Name: "Today", At: todayAt}, "tint": {Name: "Tints", At: tintAt},
	}
}

// named matches a command in a text, as a whole where it is quoted, or a topic of the guide.
var named = regexp.MustCompile("`wane [^`]+`|\\bwane (help [a-z-]+|[a-z]+)")

// pageOf is the page for a command line; its address is empty where no page does that.
func pageOf(line string) entry {
	words := strings.Fields(line)
	switch {
	case len(words) < 2:
		return entry{}
	case words[1] == "help" && len(words) > 2:
		return entry{Name: "Guide: " + words[2], At: topicAt(words[2])}
	}
	return verbs()[words[1]]
}

// remedy writes what can be done as tell writes a line, and commands that pages do as well as links to these.
func remedy(text string) template.HTML {
	return template.HTML(named.ReplaceAllStringFunc(string(tell(text)), func(line string) string {
		line = strings.Trim(line, "`")
		if at := pageOf(line).At; at != "" {
			return `<a href="` + template.HTMLEscapeString(at) + `">` + line + "</a>"
		}
		return line
	}))
}
