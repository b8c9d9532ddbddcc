package web

import (
	"bytes"
	"html/template"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"

	"wane/study"
)

// guide is the guide's topics as pages.
type guide struct {
	topics []topicLine // in the order of the alphabet
	pages  map[string]template.HTML
}

// topicLine is a topic with the title of its page.
type topicLine struct{ Name, Title string }

var comment = regexp.MustCompile(`(?m)^<!--.*-->\n`)

// focusable lets the parts that can be wider than the window have the focus.
var focusable = strings.NewReplacer("<pre>", `<pre tabindex="0">`, "<table>", `<table tabindex="0">`)

// newGuide makes pages of the topics. Markdown that has HTML in it shows it as it is written.
func newGuide(topics []Topic) guide {
	g := guide{pages: map[string]template.HTML{}}
	markdown := goldmark.New(goldmark.WithExtensions(extension.Table),
		goldmark.WithParserOptions(parser.WithAutoHeadingID(), parser.WithASTTransformers(util.Prioritized(oneLower{}, 1))))
	for _, t := range topics {
		title, rest, _ := strings.Cut(strings.TrimPrefix(comment.ReplaceAllString(t.Text, ""), "# "), "\n")
		var out bytes.Buffer
		if err := markdown.Convert([]byte(rest), &out); err != nil {
			panic(err) // a bytes.Buffer takes everything
		}
		g.topics = append(g.topics, topicLine{t.Name, title})
		// Who reads by keyboard can move what is wider than the window.
		g.pages[t.Name] = template.HTML(focusable.Replace(out.String()))
	}
	slices.SortFunc(g.topics, func(a, b topicLine) int { return strings.Compare(a.Name, b.Name) })
	return g
}

// oneLower lets links between files of the guide lead to its pages.
type oneLower struct{}

// Transform changes the links of a page.
func (oneLower) Transform(page *ast.Document, _ text.Reader, _ parser.Context) {
	err := ast.Walk(page, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if link, ok := n.(*ast.Link); ok && entering {
			to := string(link.Destination)
			if name, ok := strings.CutSuffix(to, ".md"); ok && !strings.Contains(name, "/") {
				link.Destination = []byte(topicAt(name))
			} else if u, err := url.Parse(to); err != nil || u.Scheme != "https" && !strings.HasPrefix(to, "#") {
				link.Destination = nil
			}
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		panic(err) // the walk returns none
	}
}

// topics is the page of all topics.
func (s *Server) topics(*request) (answer, error) {
	return &view{Name: "topics", Title: "Guide", Nav: guideAt, Data: s.guide.topics}, nil
}

// topicPage is what the page of a topic shows.
type topicPage struct {
	Text   template.HTML
	Topics []topicLine
	Name   string
}

// topic is the page of a topic.
func (s *Server) topic(q *request) (answer, error) {
	name := q.PathValue("topic")
	for _, t := range s.guide.topics {
		if t.Name == name {
			return &view{Name: "topic", Title: t.Title, Nav: guideAt,
				Data: &topicPage{Text: s.guide.pages[name], Topics: s.guide.topics, Name: name}}, nil
		}
	}
	var known []string
	for _, t := range s.guide.topics {
		known = append(known, t.Name)
	}
	return nil, absent(&study.Refusal{Fault: "the guide has no topic " + study.Shown(name),
		Try: study.DidYouMean(name, known, "choose one of the list of the guide")})
}
