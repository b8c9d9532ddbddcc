package web

import (
	"context"
	"errors"
	"log"
	"net"
	"net/http"
	"syscall"
	"time"

	"wane/study"
)

const (
	largestHead = 1 << 14
	longestEnd  = 5 * time.Second // that requests get when the server ends
)

// limits are how long a connection may take for its parts. A form that may have files in it may take longer than others.
type limits struct{ head, read, upload, answer, idle time.Duration }

func usualLimits() limits {
	return limits{head: 5 * time.Second, read: 30 * time.Second, upload: 10 * time.Minute, answer: 2 * time.Minute,
		idle: 2 * time.Minute}
}

// Listen returns a listener at an address, HOST:PORT. One that is in use is refused.
func Listen(ctx context.Context, address string) (net.Listener, error) {
	var config net.ListenConfig
	l, err := config.Listen(ctx, "tcp", address)
	if err == nil {
		return l, nil
	}
	refusal := &study.Refusal{Fault: address + " cannot be listened at", Cause: err,
		Try: "write an address of this machine and a port from 1024 to 65535, as in --listen 127.0.0.1:8040"}
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		refusal.Fault = address + " is in use: another program, or another wane serve, listens there"
		refusal.Try = "end that one, or choose another port, as in --listen 127.0.0.1:8041 (port 0: any that is free)"
		refusal.Cause = nil
	case errors.Is(err, syscall.EACCES):
		refusal.Fault, refusal.Cause = address+" is not for everybody: the system keeps ports below 1024", nil
	}
	return nil, refusal
}

// IsLoopback reports whether only this machine can reach a listener.
func IsLoopback(l net.Listener) bool {
	at, ok := l.Addr().(*net.TCPAddr)
	return ok && at.IP.IsLoopback()
}

// Serve answers requests until ctx is done, and lets those that are worked at then end within a few seconds.
func Serve(ctx context.Context, l net.Listener, s *Server) error {
	server := &http.Server{
		Handler: s, ReadHeaderTimeout: s.limits.head, ReadTimeout: s.limits.read, WriteTimeout: s.limits.answer,
		IdleTimeout: s.limits.idle, MaxHeaderBytes: largestHead, ErrorLog: log.New(discard{}, "", 0),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	s.stop()
	last, cancel := context.WithTimeout(context.Background(), longestEnd)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		return server.Close() // who is still connected then, is cut off
	}
	return nil
}

// discard takes what net/http says of broken connections, which are no news.
type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }
