package web

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/text"
)

// mostFilesShown is how many files of a tray the page shows in full. Those that ask or are refused come first.
const mostFilesShown = 60

// planned is what would become of the exports of a tray.
type planned struct {
	Files        []plannedFile // the first ones
	More         int
	Notes        []string
	Refused      []troubleLine // of all
	Take, Asking int           // files that would be taken in, and that leave a question open
	Known        bool          // a file is in the study, at another place
	Curves, Held int

	rest []plannedFile // all of them

	head  int64
	said  int
	ended chan struct{}
	err   error
}

// plannedFile is what would become of a file.
type plannedFile struct {
	Number  int
	File    string
	Read    string
	Curves  []string
	Notes   []string
	Held    []string
	Refused []troubleLine
	Choices []offered
	Replies []reply
	Alike   int // other files that ask the same

	asks string
}

// offered is an answer to choose.
type offered struct {
	Number  int
	Name    string
	Value   string // empty: the person writes it
	Meaning string
}

// planOf returns what would become of the exports of a tray, of which the lock is held. It is made once for what was said
// and for a line of the log.
func (s *Server) planOf(ctx context.Context, t *tray, head int64) (*planned, error) {
	u := t.intake
	if u.plan == nil || u.plan.head != head || u.plan.said != u.said {
		p := &planned{head: head, said: u.said, ended: make(chan struct{})}
		u.plan = p
		mapFile, profile := u.where(t)
		replies := cloneReplies(u.answers)
		s.works.Add(1)
		go func() {
			defer s.works.Done()
			defer close(p.ended)
			defer study.Catch("the plan", &p.err)
			p.err = p.make(s.ctx, s.desk, t, mapFile, desk.IntakeOptions{Profile: profile}, replies)
		}()
	}
	p := u.plan
	select {
	case <-p.ended:
	case <-time.After(waitFirst):
		return nil, errBeingMade
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if p.err != nil {
		p.Refused = t.linesOf(p.err)
		var refusal *study.Refusal
		var usage *desk.UsageError
		if !errors.As(p.err, &refusal) && !errors.As(p.err, &usage) {
			u.plan = nil
			return nil, p.err
		}
	}
	return p, nil
}

// make previews all files, and then each that was answered about with its answers.
func (p *planned) make(ctx context.Context, d *desk.Desk, t *tray, mapFile string, opt desk.IntakeOptions,
	replies replies) error {
	all, err := d.Preview(ctx, mapFile, []string{t.folder}, opt)
	if err != nil {
		return err
	}
	var files []plannedFile
	for i := range all {
		one, of := &all[i], opt
		for range 20 { // an export asks one question after the other
			asked := questionOf(one.Refused)
			if asked == nil || replies.ask(asked, &of.Stated) != nil {
				break
			}
			again, err := d.Preview(ctx, mapFile, []string{asked.File}, of)
			if err != nil {
				one.Refused = err
				break
			}
			one = &again[0]
		}
		name := t.plain(one.File)
		if !slices.ContainsFunc(t.Files, func(f string) bool { return f == name || strings.HasPrefix(name, f+"/") }) ||
			mapFile != "" && t.at(name) == mapFile {
			p.Notes = append(p.Notes, t.plainAll(one.Notes)...) // of the map or the profile
			continue
		}
		files = append(files, p.file(t, one, replies[t.at(name)]))
	}
	p.arrange(files)
	return nil
}

// questionOf returns the question that a refusal asks; nil: none.
func questionOf(err error) *study.Refusal {
	var r *study.Refusal
	if errors.As(err, &r) && len(r.Choices) > 0 {
		return r
	}
	return nil
}

// file is what would become of a file.
func (p *planned) file(t *tray, of *desk.Previewed, replies []reply) plannedFile {
	f := plannedFile{File: t.plain(of.File), Read: of.Read, Curves: of.Curves, Replies: replies}
	for _, n := range of.Notes {
		if n = t.plain(n); strings.Contains(n, " would be held: ") {
			f.Held = append(f.Held, n)
		} else {
			f.Notes = append(f.Notes, strings.TrimPrefix(n, f.File+": "))
		}
	}
	if of.Refused == nil {
		p.Take++
		p.Curves += len(of.Curves)
		p.Held += len(f.Held)
		return f
	}
	f.Refused = t.linesOf(of.Refused)
	p.Known = p.Known || slices.ContainsFunc(f.Refused, func(l troubleLine) bool { return strings.Contains(l.Try, "--replace") })
	if asked := questionOf(of.Refused); asked != nil {
		p.Asking++
		for i, c := range asked.Choices {
			f.Choices = append(f.Choices, offered{i, c.Name, c.Value, c.Meaning})
			f.asks += "\n" + c.Name + " " + c.Value
		}
	}
	return f
}

// arrange keeps the first files: those that ask, those that are refused, and the others.
func (p *planned) arrange(files []plannedFile) {
	alike := map[string]int{}
	for i := range files {
		files[i].Number = i
		alike[files[i].asks]++
	}
	rank := func(f plannedFile) int {
		switch {
		case len(f.Choices) > 0:
			return 0
		case len(f.Refused) > 0:
			return 1
		case len(f.Held) > 0:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(files, func(a, b plannedFile) int { return rank(a) - rank(b) })
	for i := range files {
		if files[i].asks != "" {
			files[i].Alike = alike[files[i].asks] - 1
		}
	}
	p.Files = files[:min(len(files), mostFilesShown)]
	p.More = len(files) - len(p.Files)
	p.rest = files
}

// replies are the answers by the paths of files.
type replies map[string][]reply

func cloneReplies(of map[string][]reply) replies {
	all := replies{}
	for file, r := range maps.All(of) {
		all[file] = slices.Clone(r)
	}
	return all
}

var errNoReply = errors.New("the person has not answered")

// ask states the answer to the question of a refusal that was not given before; without one it is an error.
func (r replies) ask(refused *study.Refusal, stated *text.Stated) error {
	for _, a := range r[refused.File] {
		for _, of := range stated.Answers() {
			if of.Name != a.Name || *of.To != "" {
				continue
			}
			if slices.ContainsFunc(refused.Choices, func(c study.Choice) bool { return c.Name == a.Name }) {
				return stated.Set(a.Name, a.Value)
			}
		}
	}
	return errNoReply
}

// reply keeps an answer to the question of a file, and of those that ask the same if the person wants that.
func (s *Server) reply(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	u := t.intake
	u.mu.Lock()
	defer u.mu.Unlock()
	asked, err := u.asked(q.PostFormValue("file"))
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(q.PostFormValue("choice"))
	if err != nil || n < 0 || n >= len(asked.Choices) {
		return nil, &study.Refusal{File: asked.File, Fault: "no answer is chosen", Try: "choose one, and send it again"}
	}
	c := asked.Choices[n]
	if c.Value == "" {
		c.Value = strings.TrimSpace(q.PostFormValue("value-" + decimal(n)))
		if fault, try := study.CheckCode(c.Value); c.Value == "" || fault != "" {
			return nil, &study.Refusal{File: asked.File, Fault: "the answer " + c.Name + " needs a value in one line",
				Try: "write it beside the answer; " + try}
		}
	}
	for i := range u.plan.rest {
		f := &u.plan.rest[i]
		if f == asked || q.PostFormValue("alike") != "" && f.asks == asked.asks {
			path := t.at(f.File)
			u.answers[path] = append(slices.DeleteFunc(u.answers[path], func(r reply) bool { return r.Name == c.Name }),
				reply{c.Name, c.Value})
		}
	}
	u.said++
	return &done{To: trayAt(t.id)}, nil
}

// asked returns the file of the plan that asks.
func (u *uploaded) asked(file string) (*plannedFile, error) {
	if u.task.isBusy() {
		return nil, beingTakenIn()
	}
	if u.plan != nil {
		select {
		case <-u.plan.ended:
			for i := range u.plan.rest {
				if f := &u.plan.rest[i]; f.File == file && len(f.Choices) > 0 {
					return f, nil
				}
			}
		default:
		}
	}
	return nil, &study.Refusal{Fault: "the file " + study.Shown(file) + " asks nothing now", Try: "load the page of the files again"}
}

// forget takes the answers about a file back.
func (s *Server) forget(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	u := t.intake
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.task.isBusy() {
		return nil, beingTakenIn()
	}
	if file, err := localName(q.PostFormValue("file")); err == nil {
		delete(u.answers, t.at(file))
	}
	u.said++
	return &done{To: trayAt(t.id)}, nil
}
