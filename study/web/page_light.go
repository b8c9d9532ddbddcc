package web

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/shown"
)

// lightPage asks in which sunlight results are wanted, and shows those that were made last.
type lightPage struct {
	Task              *task
	StreamsAt, PageAt string
	Failed            []troubleLine
	Made              *lit
	Rows              *grid
	More              int
	Coupon            string
	Coupons           []string
}

// lit is the results of a study in other sunlight, as they were when the log had so many lines.
type lit struct {
	Who, At string
	Lines   []string // what the lights are
	Line    int64
	lights  []evaluate.Light
	rows    []*desk.LitRow
}

// mostLitShown is how many rows the page shows; a file has all.
const mostLitShown = 200

func (s *Server) lastLight() *task {
	s.lasts.mu.Lock()
	defer s.lasts.mu.Unlock()
	return s.lasts.light
}

// light is the page of results in other sunlight, of a coupon if the address names one.
func (s *Server) light(q *request) (answer, error) {
	p := &lightPage{StreamsAt: lightAt + "/progress", PageAt: q.URL.RequestURI(), Coupon: q.URL.Query().Get("coupon")}
	v := &view{Name: "light", Title: "Results in other sunlight", Topic: "oblique-sun", Nav: couponsAt, Data: p}
	t := s.lastLight()
	if t == nil {
		return v, nil
	}
	if t.isBusy() {
		p.Task = t
		return v, nil
	}
	result, err := t.came()
	if err != nil {
		p.Failed = linesOf(err)
	}
	made, _ := result.(*lit)
	if made == nil {
		return v, nil
	}
	var rows []*desk.LitRow
	for _, r := range made.rows {
		p.Coupons = addOnce(p.Coupons, r.Coupon)
		if p.Coupon == "" || r.Coupon == p.Coupon {
			rows = append(rows, r)
		}
	}
	if p.Made, p.More = made, max(0, len(rows)-mostLitShown); made.Line < q.head.Number {
		v.UpTo = made.Line
	}
	columns := shown.InLight(made.lights)
	p.Rows = gridOf("Spots in this light; values ± U (k=2)", columns.Table(), rows[:len(rows)-p.More],
		func(column string, r *desk.LitRow) string {
			if column == "coupon" {
				return couponAt(r.Coupon)
			}
			return ""
		})
	v.File, v.Rows = "in-light", rowsFile(columns, rows)
	return v, nil
}

// mostLights is how many angles may be asked for at once: the study is fitted for each.
const mostLights = 20

// readLights reads in which lights results are wanted: fields of the form, and tables among its files.
func readLights(q *request, t *tray) (lights []evaluate.Light, err error) {
	angles, err := numbersOf("the angles", q.PostFormValue("at"), 0, 89.99)
	if err != nil {
		return nil, err
	}
	slices.Sort(angles)
	for _, angle := range slices.Compact(angles) {
		lights = append(lights, evaluate.LightAt(angle))
	}
	if q.PostFormValue("diffuse") != "" {
		lights = append(lights, evaluate.DiffuseLight())
	}
	add := func(light evaluate.Light, err error) error {
		light.Says = t.plain(light.Says)
		lights = append(lights, light)
		return err
	}
	gap := strings.TrimSpace(q.PostFormValue("band-gap"))
	responses := 0
	for _, f := range t.Files {
		read := desk.ReadLight
		if slices.Contains(t.header(f), "response") {
			read, responses = desk.ReadResponse, responses+1
		}
		if err := add(read(t.at(f))); err != nil {
			return nil, err
		}
	}
	if gap != "" {
		responses++
		ev, err := strconv.ParseFloat(gap, 64)
		if err != nil {
			return nil, &study.Refusal{Fault: "the band gap is no number: " + study.Shown(gap), Try: "write it in eV: 1.12"}
		}
		if err := add(evaluate.IdealLight(gap, ev)); err != nil {
			return nil, err
		}
	}
	switch {
	case len(lights) == 0:
		return nil, &study.Refusal{Fault: "no light is named", Try: "write angles, choose light from all sides, or add a table"}
	case len(lights) > mostLights:
		return nil, &study.Refusal{Fault: fmt.Sprintf("%d lights are too many at once: all spots are fitted for each", len(lights)),
			Try: "ask for at most " + decimal(mostLights)}
	case responses > 1 || len(t.Files)-min(responses, len(t.Files)) > 1:
		return nil, &study.Refusal{Fault: "more than one device, or more than one table of angles, is named",
			Try: "give one of each kind at a time"}
	}
	return lights, nil
}

// findLight begins to fit the study in other light, or joins whoever does. It changes nothing of the study.
func (s *Server) findLight(q *request) (answer, error) {
	t, err := s.receiveAny(q, "")
	if err != nil {
		return nil, err
	}
	lights, err := readLights(q, t)
	if err = errors.Join(t.without(err), os.RemoveAll(t.folder)); err != nil {
		return nil, err
	}
	to := withQuery(lightAt, "coupon", strings.TrimSpace(q.PostFormValue("coupon")))
	s.lasts.mu.Lock()
	busy := s.lasts.light.isBusy()
	if !busy {
		s.lasts.light = s.begin(q.who(), "spot", func(ctx context.Context, progress desk.Progress) (any, error) {
			return s.inLight(ctx, q.who(), lights, progress)
		})
	}
	begun := s.lasts.light
	s.lasts.mu.Unlock()
	if busy {
		return &done{To: to, Said: fmt.Sprintf("Other lights are being worked out, asked for by %s: wait for them, then ask for yours.",
			study.Shown(begun.Who))}, nil
	}
	select {
	case <-begun.ended:
	case <-time.After(waitFirst):
	}
	return &done{To: to}, nil
}

// inLight fits the study in lights.
func (s *Server) inLight(ctx context.Context, who string, lights []evaluate.Light, progress desk.Progress) (any, error) {
	head, err := s.desk.Head(ctx)
	if err != nil {
		return nil, err
	}
	out := &lit{Who: who, At: s.opt.Now().UTC().Format(time.RFC3339), Line: head.Number, lights: lights, Lines: shown.LightLines(lights)}
	err = s.desk.ResultsInLight(ctx, desk.ResultsOptions{AsOf: head.Number}, lights, progress, func(r *desk.LitRow) error {
		out.rows = append(out.rows, r)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// lightProgress is the stream of how far other lights are.
func (s *Server) lightProgress(q *request) (answer, error) {
	t := s.lastLight()
	if t == nil {
		return nil, absent(&study.Refusal{Fault: "no other light is being worked out", Try: "ask for one on the page of other sunlight"})
	}
	return q.follow(t), nil
}
