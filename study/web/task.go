package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"sync"
	"time"

	"wane/study"
	"wane/study/desk"
)

// task is work that goes on in the background, also when the page that shows it is left.
type task struct {
	Who   string
	Begun time.Time
	Thing string // what is counted

	mu          sync.Mutex
	done, total int
	result      any
	err         error
	ended       chan struct{}
}

// begin begins a task. It ends early when the server ends.
func (s *Server) begin(who, thing string, work func(context.Context, desk.Progress) (any, error)) *task {
	t := &task{Who: who, Begun: s.opt.Now(), Thing: thing, ended: make(chan struct{})}
	s.works.Add(1)
	go func() {
		defer s.works.Done()
		defer close(t.ended)
		result, err := caught(s.ctx, work, t.progress)
		t.mu.Lock()
		defer t.mu.Unlock()
		t.result, t.err = result, err
	}()
	return t
}

// caught works, and makes an error of a panic.
func caught(ctx context.Context, work func(context.Context, desk.Progress) (any, error), progress desk.Progress) (result any,
	err error) {
	defer study.Catch("the background", &err)
	return work(ctx, progress)
}

func (t *task) progress(done, total int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.done, t.total = done, total
}

// isBusy reports whether the task goes on. A task that was never begun does not.
func (t *task) isBusy() bool {
	if t == nil {
		return false
	}
	select {
	case <-t.ended:
		return false
	default:
		return true
	}
}

// came returns what came of a task that has ended.
func (t *task) came() (any, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.result, t.err
}

// state is how far a task is, as its page and its stream say it.
type state struct {
	Done  int    `json:"done"`
	Total int    `json:"total"`
	Words string `json:"words"`
}

// State says how far the task is.
func (t *task) State() state {
	t.mu.Lock()
	defer t.mu.Unlock()
	words := "beginning"
	if t.total > 0 {
		words = fmt.Sprintf("%d of %s", t.done, countWords(t.total, t.Thing))
	}
	return state{t.done, t.total, words}
}

// Between what a stream says: not more often than a person reads, and often enough for the connection to stay.
const (
	betweenStates = 250 * time.Millisecond
	longestSilent = 15 * time.Second
)

// follow is a stream (server-sent events) of how far a task is. It ends with the task, the browser or the server.
func (q *request) follow(t *task) answer {
	return &stream{Type: "text/event-stream", Write: func(w io.Writer, flush func() error) error {
		var last state
		said := time.Time{}
		for {
			now, over := t.State(), !t.isBusy()
			if now != last || time.Since(said) > longestSilent {
				text, err := json.Marshal(now)
				if err != nil {
					return err
				}
				if !send(w, flush, "event: progress\ndata: %s\n\n", text) {
					return nil
				}
				last, said = now, time.Now()
			}
			if over {
				send(w, flush, "event: ended\ndata: {}\n\n")
				return nil
			}
			select {
			case <-time.After(betweenStates):
			case <-t.ended:
			case <-q.Context().Done():
				return nil
			case <-q.server.ctx.Done():
				return nil
			}
		}
	}}
}

// send sends an event; false: the browser has gone.
func send(w io.Writer, flush func() error, format string, args ...any) bool {
	if _, err := fmt.Fprintf(w, format, args...); err != nil {
		return false
	}
	return flush() == nil
}
