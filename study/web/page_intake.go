package web

import (
	"context"
	"errors"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// uploaded is what a person has said of the exports of a tray, and what became of them.
type uploaded struct {
	mu                  sync.Mutex
	Map, Sheet, Profile string
	answers             map[string][]reply // by file
	said                int                // how often anything was said
	plan                *planned
	task                *task // that takes them in
}

// reply is the answer to a question that an export leaves open.
type reply struct{ Name, Value string }

func (t *tray) isBusy() bool {
	if t.intake == nil {
		return false
	}
	t.intake.mu.Lock()
	defer t.intake.mu.Unlock()
	return t.intake.task.isBusy()
}

// intakeStart is the page on which exports are uploaded.
type intakeStart struct {
	Most  int // megabytes at once
	Trays []trayLink
}

type trayLink struct {
	At    string
	Files []string
}

func (s *Server) intakePage(q *request) (answer, error) {
	return &view{Name: "upload", Title: "Take in exports", Topic: "exports", Nav: intakeAt,
		Data: &intakeStart{Most: largestUpload >> 20, Trays: s.trays.linksOf(q.session)}}, nil
}

// linksOf are the trays with exports of a session.
func (ts *trays) linksOf(of *session) (links []trayLink) {
	ts.mu.Lock()
	defer ts.mu.Unlock()
	for _, t := range ts.all {
		if t.owner == of && of != nil && t.intake != nil {
			t.intake.mu.Lock()
			links = append(links, trayLink{trayAt(t.id), slices.Clone(t.Files)})
			t.intake.mu.Unlock()
		}
	}
	slices.SortFunc(links, func(a, b trayLink) int { return strings.Compare(a.At, b.At) })
	return links
}

// upload receives exports, with a map or a profile among them.
func (s *Server) upload(q *request) (answer, error) {
	t, err := s.receive(q, "")
	if err != nil {
		return nil, err
	}
	t.intake = &uploaded{answers: map[string][]reply{}}
	for _, f := range t.Files {
		switch {
		case desk.IsProfilePath(f):
			t.intake.Profile = f
		case t.intake.Map == "" && t.isMap(f):
			t.intake.Map = f
		}
	}
	if t.intake.Map != "" {
		if err := t.arrange(); err != nil {
			return nil, errors.Join(t.without(err), os.RemoveAll(t.folder))
		}
	}
	if err := s.trays.keep(t); err != nil {
		return nil, err
	}
	return &done{To: trayAt(t.id)}, nil
}

// arrange puts files where the map names them, if a browser sent them without their folders. A map that cannot be read is
// refused by the plan.
func (t *tray) arrange() error {
	named, err := desk.MappedFiles(t.at(t.intake.Map))
	if err != nil {
		return nil
	}
	of := map[string][]string{} // by the last part
	for _, f := range t.Files {
		of[path.Base(f)] = append(of[path.Base(f)], f)
	}
	root, err := os.OpenRoot(t.folder)
	if err != nil {
		return cannotKeep(err)
	}
	defer root.Close()
	for _, p := range named {
		to, err := filepath.Rel(t.folder, p)
		if err != nil || !filepath.IsLocal(to) {
			continue
		}
		from := of[filepath.Base(p)]
		if len(from) != 1 || from[0] == filepath.ToSlash(to) || from[0] == t.intake.Map {
			continue
		}
		if _, err := root.Stat(to); err == nil || root.MkdirAll(filepath.Dir(to), 0o700) != nil {
			continue
		}
		if err := root.Rename(filepath.FromSlash(from[0]), to); err != nil {
			return cannotKeep(err)
		}
		t.Files[slices.Index(t.Files, from[0])] = filepath.ToSlash(to)
		of[filepath.Base(p)] = []string{filepath.ToSlash(to)}
	}
	slices.Sort(t.Files)
	return nil
}

// where returns the path of the map and of the profile, as desk takes them.
func (u *uploaded) where(t *tray) (mapFile, profile string) {
	if u.Map != "" {
		mapFile = t.at(u.Map)
		if u.Sheet != "" {
			mapFile += "#" + u.Sheet
		}
	}
	profile = u.Profile
	if slices.Contains(t.Files, profile) {
		profile = t.at(profile)
	}
	return mapFile, profile
}

// exportsPage is a tray of exports: what would happen, or what happened.
type exportsPage struct {
	ID                string
	At                string
	Files             []string
	Tables            []string // that could be a map
	Profiles          []string
	Of                *uploaded
	Task              *task
	Plan              *planned
	Taken             *takenIn
	Curves            []curveRow
	CurvesOf          *shownCodes
	TooMany           bool
	Unplaced          []troubleLine
	StreamsAt, PageAt string
	Answered          bool // a question was

	Polarisations []string
}

// takenIn is what became of exports.
type takenIn struct {
	Words   string
	Notes   []string
	Held    []string
	Refused []troubleLine
	Failed  []troubleLine
	New     bool // there is something to be fitted
	Judge   bool
}

// exports is the page of a tray.
func (s *Server) exports(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	u := t.intake
	if u == nil {
		return nil, &study.Refusal{Fault: "no exports were uploaded here", Try: "upload them on the page to take in exports"}
	}
	codes, err := s.desk.Codes(q.Context())
	if err != nil {
		return nil, err
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	p := &exportsPage{ID: t.id, At: trayAt(t.id), Files: t.Files, Of: u, Task: u.task, StreamsAt: trayAt(t.id) + "/progress", PageAt: trayAt(t.id),
		Polarisations: []string{"u", "s", "p", "n"}}
	for _, f := range t.Files {
		switch ending := strings.ToLower(path.Ext(f)); {
		case desk.IsProfilePath(f):
			p.Profiles = append(p.Profiles, f)
		case ending == ".csv" || ending == ".txt" || ending == ".xlsx":
			p.Tables = append(p.Tables, f)
		}
	}
	p.Profiles = append(p.Profiles, codes.Profiles...)
	v := &view{Name: "exports", Title: "Take in " + countWords(len(t.Files), "file"), Topic: "exports", Nav: intakeAt, Data: p}
	if u.task.isBusy() {
		return v, nil
	}
	p.Task, p.Answered = nil, len(u.answers) > 0
	if u.task != nil {
		p.Taken = takenOf(t, u.task)
	}
	if u.Map == "" && u.Profile == "" {
		p.Curves, p.Unplaced, p.TooMany = t.curves()
		p.CurvesOf = &shownCodes{Codes: codes}
		return v, nil
	}
	p.Plan, err = s.planOf(q.Context(), t, q.head.Number)
	return v, t.without(err)
}

// takenOf says what became of exports.
func takenOf(t *tray, k *task) *takenIn {
	result, err := k.came()
	out := &takenIn{}
	if in, _ := result.(*desk.TakenIn); in != nil {
		notes, _ := shown.IntakeNotes(in)
		out.Words, out.New, out.Judge = shown.IntakeWords(in), in.Files > 0, len(in.Held) > 0
		out.Notes = t.plainAll(append(notes, in.Notes...))
		out.Held = shown.GuardLines(&desk.GuardChanges{Held: in.Held, Released: in.Released, Waiting: in.Waiting})
		for _, r := range in.Refused {
			out.Refused = append(out.Refused, t.linesOf(r)...)
		}
	}
	if err != nil {
		out.Failed = t.linesOf(err)
	}
	return out
}

// place keeps what places the curves.
func (s *Server) place(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	mapFile, profile, sheet := q.PostFormValue("map"), q.PostFormValue("profile"), strings.TrimSpace(q.PostFormValue("sheet"))
	if mapFile != "" && !slices.Contains(t.Files, mapFile) {
		return nil, &study.Refusal{Fault: "no file " + study.Shown(mapFile) + " was uploaded", Try: "choose one of the list"}
	}
	if profile != "" && !slices.Contains(t.Files, profile) {
		codes, err := s.desk.Codes(q.Context())
		if err != nil {
			return nil, err
		}
		if !slices.Contains(codes.Profiles, profile) {
			return nil, &study.Refusal{Fault: "there is no profile " + study.Shown(profile),
				Try: study.DidYouMean(profile, codes.Profiles, "choose one of the list")}
		}
	}
	u := t.intake
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.task.isBusy() {
		return nil, beingTakenIn()
	}
	u.Map, u.Profile, u.Sheet = mapFile, profile, sheet
	u.said++
	if mapFile != "" {
		err = t.arrange()
	}
	return &done{To: trayAt(t.id)}, err
}

func beingTakenIn() error {
	return &study.Refusal{Fault: "these exports are being taken in", Try: "wait until that has ended: the page shows how far it is"}
}

// take takes the exports of a tray in.
func (s *Server) take(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	u := t.intake
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.task.isBusy() {
		return &done{To: trayAt(t.id)}, nil
	}
	mapFile, profile := u.where(t)
	if mapFile == "" && profile == "" {
		return nil, nothingPlaces()
	}
	opt, replies := desk.IntakeOptions{Profile: profile}, cloneReplies(u.answers)
	how := desk.Asking{Ask: replies.ask, SaveAs: strings.TrimSpace(q.PostFormValue("save-profile"))}
	u.task = s.begin(d.Who(), "export", func(ctx context.Context, progress desk.Progress) (any, error) {
		opt.Progress = progress
		in, err := d.Intake(ctx, mapFile, []string{t.folder}, opt)
		if err == nil {
			var saved *desk.KeptProfile
			if saved, err = d.AskRefused(ctx, mapFile, in, how, opt); saved != nil {
				in.Notes = append(in.Notes, shown.KeptProfileWords(saved))
			}
		}
		return in, err
	})
	u.said++
	select { // few files are in at once
	case <-u.task.ended:
	case <-time.After(waitFirst / 4):
	}
	return &done{To: trayAt(t.id)}, nil
}

func nothingPlaces() error {
	return &study.Refusal{Fault: "nothing says where the curves belong", Try: "choose a map or a profile first, or say it " +
		"on the page"}
}

// takeAway removes the files of a tray.
func (s *Server) takeAway(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	if t.isBusy() {
		return nil, beingTakenIn()
	}
	return &done{To: intakeAt, Said: "The uploaded files are removed from this machine. The study keeps what was taken in."},
		s.trays.remove(t)
}

// intakeProgress is the stream of how far an intake is.
func (s *Server) intakeProgress(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	t.intake.mu.Lock()
	defer t.intake.mu.Unlock()
	if t.intake.task == nil {
		return nil, absent(&study.Refusal{Fault: "these exports are not being taken in", Try: "take them in on their page"})
	}
	return q.follow(t.intake.task), nil
}
