package web

import (
	"context"
	"net/http"
)

// page makes the answer to a request that changes nothing.
type page func(*request) (answer, error)

// route is a page or a change, with the pattern of its address.
type route struct {
	pattern string
	make    page
	most    int64 // bytes of the form of a change; 0: largestForm
	reads   bool  // the change changes nothing of the study: it can be made where that is read only
}

// pages lists the pages.
func (s *Server) pages() []route {
	return []route{
		{pattern: "/{$}", make: func(*request) (answer, error) { return &done{To: todayAt}, nil }},
		{pattern: todayAt, make: s.today},
		{pattern: couponsAt, make: s.coupons},
		{pattern: couponsAt + "/{coupon}", make: s.coupon},
		{pattern: couponsAt + "/{coupon}/spectra", make: s.spectra},
		{pattern: couponsAt + "/{coupon}/{figure}", make: s.couponFigure},
		{pattern: couponsAt + "/{coupon}/pictures/{sum}", make: s.picture},
		{pattern: coatingsAt, make: s.coatings},
		{pattern: compareAt, make: s.compare},
		{pattern: tintAt, make: s.tint},
		{pattern: lightAt, make: s.light},
		{pattern: lightAt + "/progress", make: s.lightProgress},
		{pattern: rulesAt, make: s.rules},
		{pattern: rulesAt + "/{rule}", make: s.rule},
		{pattern: sessionsAt, make: s.checks},
		{pattern: sessionsAt + "/{session}", make: s.oneSession},
		{pattern: logAt, make: s.history},
		{pattern: guideAt, make: s.topics},
		{pattern: guideAt + "/{topic}", make: s.topic},
		{pattern: nameAt, make: s.askName},
		{pattern: enrolAt, make: s.enrolPage},
		{pattern: measureAt, make: s.measurePage},
		{pattern: eventAt, make: s.eventPage},
		{pattern: intakeAt, make: s.intakePage},
		{pattern: intakeAt + "/{tray}", make: s.exports},
		{pattern: intakeAt + "/{tray}/progress", make: s.intakeProgress},
		{pattern: judgeAt, make: s.judgeList},
		{pattern: judgeAt + "/{reading}", make: s.judging},
		{pattern: fitAt, make: s.fitPage},
		{pattern: fitAt + "/progress", make: s.fitProgress},
		{pattern: moveAt, make: s.movePage},
		{pattern: amendAt, make: s.amendPage},
		{pattern: reportAt, make: s.reportPage},
		{pattern: reportAt + "/progress", make: s.reportProgress},
		{pattern: reportAt + "/{file}", make: s.reportFile},
	}
}

// changes lists what forms do. None runs before the guard has let it.
func (s *Server) changes() []route {
	return []route{
		{pattern: nameAt, make: s.setName},
		{pattern: enrolAt, make: s.enrol, most: largestUpload},
		{pattern: enrolAt + "/from", make: s.enrolFrom, most: largestUpload},
		{pattern: measureAt, make: s.measure, most: largestUpload},
		{pattern: eventAt, make: s.addEvent},
		{pattern: tintAt, make: s.readTint, most: largestPicture, reads: true},
		{pattern: lightAt, make: s.findLight, most: largestPicture, reads: true},
		{pattern: intakeAt, make: s.upload, most: largestUpload},
		{pattern: intakeAt + "/{tray}/place", make: s.place},
		{pattern: intakeAt + "/{tray}/map", make: s.drawMap},
		{pattern: intakeAt + "/{tray}/answer", make: s.reply},
		{pattern: intakeAt + "/{tray}/forget", make: s.forget},
		{pattern: intakeAt + "/{tray}/take", make: s.take},
		{pattern: intakeAt + "/{tray}/replace", make: s.replace},
		{pattern: intakeAt + "/{tray}/remove", make: s.takeAway},
		{pattern: judgeAt, make: s.judge},
		{pattern: fitAt, make: s.fit},
		{pattern: moveAt, make: s.move},
		{pattern: amendAt, make: s.amend, most: largestUpload},
		{pattern: rulesAt, make: s.addRule, most: largestUpload},
		{pattern: rulesAt + "/judge", make: s.judgeRules},
		{pattern: reportAt, make: s.makeReport},
	}
}

// largestForm is how many bytes a form may have that takes no files in.
const largestForm = 1 << 20

type requestKey struct{}

// routes puts pages and changes behind their patterns.
func (s *Server) routes() *http.ServeMux {
	mux := http.NewServeMux()
	put := func(method string, r route, do func(*request) (answer, error)) {
		mux.HandleFunc(method+" "+r.pattern, func(w http.ResponseWriter, h *http.Request) {
			q := h.Context().Value(requestKey{}).(*routed)
			q.Request = h // which knows the wildcards of the pattern
			q.answer, q.err = do(q.request)
		})
	}
	for _, r := range s.pages() {
		put("GET", r, r.make)
	}
	for _, r := range s.changes() {
		put("POST", r, func(q *request) (answer, error) { return s.change(q, r) })
	}
	return mux
}

// routed is a request on its way through the patterns, and what came of it.
type routed struct {
	*request
	w      *counted
	answer answer
	err    error
}

// route finds the page or the change of a request and gives its answer.
func (s *Server) route(w *counted, q *request) error {
	if err := s.desk.InPlace(); err != nil {
		return s.refuse(w, q, http.StatusServiceUnavailable, replaced(err))
	}
	var err error
	if q.head, err = s.desk.Head(q.Context()); err != nil {
		return s.refuse(w, q, statusOf(err), err)
	}
	through := &routed{request: q, w: w}
	out := &held{}
	s.mux.ServeHTTP(out, q.WithContext(context.WithValue(q.Context(), requestKey{}, through)))
	switch {
	case out.status != 0: // the patterns lead elsewhere, or do not take the method
		return s.passOn(w, q, out)
	case through.err != nil:
		return s.refuse(w, q, statusOf(through.err), through.err)
	}
	return s.give(w, q, through.answer)
}

// change runs a change whose form is in order.
func (s *Server) change(q *request, r route) (answer, error) {
	most := r.most
	if most == 0 {
		most = largestForm
	}
	w := q.Context().Value(requestKey{}).(*routed).w
	q.Body = http.MaxBytesReader(w, q.Body, most)
	if err := readForm(q.Request, most); err != nil {
		return nil, badForm(err)
	}
	if q.MultipartForm != nil {
		defer q.MultipartForm.RemoveAll() // its files were read
	}
	if err := q.checkForm(); err != nil {
		return nil, &status{http.StatusForbidden, err}
	}
	if s.opt.ReadOnly && !r.reads {
		return nil, &status{http.StatusForbidden, readOnly()}
	}
	return r.make(q)
}

// held takes what the patterns say themselves.
type held struct {
	header http.Header
	status int
}

func (h *held) Header() http.Header {
	if h.header == nil {
		h.header = http.Header{}
	}
	return h.header
}
func (h *held) Write(p []byte) (int, error) { h.WriteHeader(http.StatusOK); return len(p), nil }
func (h *held) WriteHeader(status int) {
	if h.status == 0 {
		h.status = status
	}
}
