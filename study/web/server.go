package web

import (
	"context"
	"net/http"
	"sync"
	"time"

	"wane/study"
	"wane/study/desk"
)

// Options say how the pages are served.
type Options struct {
	Who      string           // who works where a browser has not said another name
	ReadOnly bool             // nothing can be changed
	Hosts    []string         // names by which the machine is called, beside its addresses; without ports
	Token    string           // what whoever comes must state first; empty: nobody must
	Guide    []Topic          // the pages of the guide
	Now      func() time.Time // the clock; nil: that of the machine
	Log      func(Visit)      // is told of each request when it is answered; nil: nobody is

	// Report makes the report of a study; nil: the pages make none.
	Report func(ctx context.Context, d *desk.Desk, of ReportWanted) (*Report, error)
}

// Topic is a page of the guide.
type Topic struct {
	Name string
	Text string // Markdown, which begins with a heading
}

// Visit is a request that was answered. It has neither the query of the address nor what a form said.
type Visit struct {
	From, Method, Path string
	Status             int
	Bytes              int64
	Took               time.Duration
	Fault              error // of the program or the study; nil: none
}

// Server is the pages of a study.
type Server struct {
	desk     *desk.Desk
	opt      Options
	mux      *http.ServeMux
	limits   limits
	sessions sessions
	guide    guide
	busy     chan struct{} // holds one for each request that is worked at

	ctx   context.Context // of what is made in the background
	stop  context.CancelFunc
	works sync.WaitGroup // in the background

	whole wholes
	large sync.Mutex // for what holds much of the study while it is made

	trays  trays
	single sync.Mutex // one person after the other judges and corrects, so that each sees what was done before
	lasts  lasts
}

// lasts are the last fit, the last report and the last other light since the server began.
type lasts struct {
	mu                 sync.Mutex
	fit, report, light *task
}

// New returns the pages of a study, which stays open as long as they are served.
func New(d *desk.Desk, opt Options) *Server {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	s := &Server{desk: d, opt: opt, limits: usualLimits(), busy: make(chan struct{}, mostAtOnce)}
	s.ctx, s.stop = context.WithCancel(context.Background())
	s.sessions.init(opt.Now)
	s.trays.now, s.trays.all = opt.Now, map[string]*tray{}
	s.guide = newGuide(opt.Guide)
	s.whole = s.newWholes()
	s.mux = s.routes()
	return s
}

// Close ends what is done in the background and removes what was uploaded. Call it before the study is closed.
func (s *Server) Close() error {
	s.stop()
	s.works.Wait()
	return s.trays.close()
}

// mostAtOnce is how many requests are worked at; the others wait.
const mostAtOnce = 32

// ServeHTTP answers a request: after the guards by a page, a file of one, or a change.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	begun := time.Now()
	out := &counted{ResponseWriter: w}
	visit := Visit{From: r.RemoteAddr, Method: r.Method, Path: r.URL.Path}
	visit.Fault = s.answer(out, r)
	visit.Status, visit.Bytes, visit.Took = out.status, out.bytes, time.Since(begun)
	if s.opt.Log != nil {
		s.opt.Log(visit)
	}
}

// answer answers a request, and returns what was wrong with the program or the study. A panic becomes a page.
func (s *Server) answer(w *counted, r *http.Request) (fault error) {
	defer func() {
		if fault != nil && w.status == 0 {
			s.sayFault(w, &request{Request: r, server: s}, fault)
		}
	}()
	defer study.Catch(r.Method+" "+r.URL.Path, &fault)
	select {
	case s.busy <- struct{}{}:
		w.release = sync.OnceFunc(func() { <-s.busy })
		defer w.release()
	case <-r.Context().Done():
		return nil
	}
	return s.guarded(w, r)
}

// counted is an answer, of which the status and the bytes are counted.
type counted struct {
	http.ResponseWriter
	status int
	bytes  int64

	release func() // lets another request be worked at
}

func (c *counted) WriteHeader(status int) {
	if c.status == 0 {
		c.status = status
	}
	c.ResponseWriter.WriteHeader(status)
}

func (c *counted) Write(data []byte) (int, error) {
	if c.status == 0 {
		c.status = http.StatusOK
	}
	n, err := c.ResponseWriter.Write(data)
	c.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach what is under it.
func (c *counted) Unwrap() http.ResponseWriter { return c.ResponseWriter }
