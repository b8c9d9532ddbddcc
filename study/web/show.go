package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"
	"sync"

	"wane/study"
)

//go:embed pages/*.html
var pageFiles embed.FS

// frame is what a template knows: the page as .Page, and what is around it.
type frame struct {
	*view
	Page any // the data of the view

	Study    string // the name of its file
	Head     study.Entry
	Who      string
	Token    string // of forms; empty: nothing can be changed from here
	ReadOnly bool
	Said     string
	Notes    []string
	Menu     []entry
	Files    []fileLink
	Here     string // the address of the page
}

// Tab is the title of the page as the tab of a browser shows it: there is little room.
func (f *frame) Tab() string {
	const most = 60 // characters
	title := []rune(f.Title + " - " + f.Study)
	if len(title) > most {
		title = append(title[:most-1], '…')
	}
	return string(title)
}

// entry is an entry of the menu.
type entry struct {
	Name, At string
	Now      bool
}

// menu lists the pages that every page leads to.
func menu(now string) []entry {
	all := []entry{{Name: "Today", At: todayAt}, {Name: "Enrol", At: enrolAt}, {Name: "Take in", At: intakeAt},
		{Name: "Judge", At: judgeAt}, {Name: "Fit", At: fitAt}, {Name: "Correct", At: moveAt}, {Name: "Report", At: reportAt},
		{Name: "Coupons", At: couponsAt},
		{Name: "Coatings", At: coatingsAt}, {Name: "Tints", At: tintAt}, {Name: "Rules", At: rulesAt}, {Name: "Sessions", At: sessionsAt},
		{Name: "Log", At: logAt}, {Name: "Guide", At: guideAt}}
	for i := range all {
		all[i].Now = all[i].At == now
	}
	return all
}

// choice is a list of a form to choose from.
type choice struct {
	Name, Label, Now, None string
	Of                     []string
}

func newChoice(name, label, now string, of []string) choice {
	return choice{Name: name, Label: label, Now: now, None: "any", Of: of}
}

func everyChoice(name, label, now string, of []string) choice {
	return choice{Name: name, Label: label, Now: now, None: "all", Of: of}
}

// fileLink is a file in which the page can be had.
type fileLink struct{ Name, At string }

// templates are the pages by their names, each within the layout.
var templates = sync.OnceValue(readTemplates)

func readTemplates() map[string]*template.Template {
	functions := template.FuncMap{
		"say": say, "tell": tell, "remedy": remedy, "coupon": couponAt, "topicAt": topicAt, "file": fileURL, "sessionAt": sessionAt, "ruleAt": ruleAt,
		"choice": newChoice, "every": everyChoice,
		"count": func(n int, thing string) string { return countWords(n, thing) },
	}
	around := template.Must(template.New("layout.html").Funcs(functions).ParseFS(pageFiles, "pages/layout.html",
		"pages/parts.html"))
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		panic(err) // the pattern is wrong
	}
	all := map[string]*template.Template{}
	for _, name := range names {
		base := strings.TrimSuffix(path.Base(name), ".html")
		if base == "layout" || base == "parts" {
			continue
		}
		all[base] = template.Must(template.Must(around.Clone()).ParseFS(pageFiles, name))
	}
	return all
}

// say writes a name or a text of others: what hides something is quoted, and the direction of its script stays within.
func say(text string) template.HTML {
	return template.HTML("<bdi>" + template.HTMLEscapeString(study.Shown(text)) + "</bdi>")
}

// tell writes a line of ours as say writes a text. It goes from left to right, whatever the name with which it begins.
func tell(text string) template.HTML {
	return template.HTML(`<bdi dir="ltr">` + template.HTMLEscapeString(study.Shown(text)) + "</bdi>")
}

// show writes a view as a page. A browser without a session gets one, so that its forms have a token.
func (s *Server) show(w *counted, q *request, v *view) error {
	if q.session == nil && (s.opt.Token == "" && q.Request != nil && q.Method == http.MethodGet) &&
		!isFromElsewhere(q.Request) {
		s.sessions.begin(w, q, false)
	}
	f := &frame{view: v, Page: v.Data, Study: "wane", Here: q.URL.RequestURI()}
	if q.let {
		f.Study, f.Head, f.Who, f.ReadOnly, f.Menu = s.desk.Name(), q.head, q.who(), s.opt.ReadOnly, menu(v.Nav)
	}
	if q.let && q.session != nil {
		f.Token = q.session.token
		f.Said, f.Notes = q.session.takeSaid()
	}
	for _, format := range v.formats() {
		f.Files = append(f.Files, fileLink{strings.ToUpper(format), fileAt(q.path, format, q.URL.RawQuery)})
	}
	named := templates()[v.Name]
	if named == nil {
		return fmt.Errorf("there is no template %q", v.Name)
	}
	var out bytes.Buffer
	if err := named.Execute(&out, f); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if v.UpTo > 0 {
		w.Header().Set("Wane-Up-To", strconv.FormatInt(v.UpTo, 10))
	}
	if v.Status != 0 {
		w.WriteHeader(v.Status)
	}
	_, err := w.Write(out.Bytes())
	if err != nil {
		return nil // the browser has gone
	}
	return nil
}
