package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/web"
)

const serveLong = `Show the study as pages in a browser, and take changes there, as long as the command runs. Ctrl-C ends it.

Only this machine can open the pages, unless --listen names an address of the network. Then
everybody who comes must state a token, which is printed once when the command starts. The
connection is not encrypted: whoever can listen to the network can read the study and the
token. Use it in a network that you trust, or through a tunnel (ssh -L).

What is changed is logged under the name of WANE_OPERATOR, or the name that a person states in
the browser. Other commands may use the study meanwhile.

--host NAME adds a name by which browsers may call this machine. --requests prints a line
for each request. --read-only lets nobody change anything.
`

type serveOptions struct {
	study    studyOptions
	listen   string
	hosts    []string
	readOnly bool
	requests bool
}

func newServeCommand() *cobra.Command {
	o := &serveOptions{}
	cmd := &cobra.Command{
		Use: "serve", Short: "the study as pages in a browser",
		Long:    serveLong + exitCodes,
		Example: "  wane serve\n  wane serve --listen 127.0.0.1:8041 --read-only\n  wane serve --listen 192.0.2.17:8040 --host lab-pc",
		Args:    exactly(0, "wane serve serves the study that --study names"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runServe(cmd, o) },
	}
	o.study.bind(cmd)
	cmd.Flags().StringVar(&o.listen, "listen", "127.0.0.1:8040", "where the pages are served, HOST:PORT; port 0: any that is free")
	cmd.Flags().StringArrayVar(&o.hosts, "host", nil, "a name of this machine by which browsers may call it")
	cmd.Flags().BoolVar(&o.readOnly, "read-only", false, "nothing can be changed")
	cmd.Flags().BoolVar(&o.requests, "requests", false, "print a line for each request")
	return cmd
}

func runServe(cmd *cobra.Command, o *serveOptions) error {
	if _, _, err := net.SplitHostPort(o.listen); err != nil {
		return usagef("write it as 127.0.0.1:8040", "--listen %q is not HOST:PORT", o.listen)
	}
	defer holdWhole()()
	open := o.study.with
	if o.readOnly {
		open = o.study.reading
	}
	return open(cmd.Context(), func(d *desk.Desk) error {
		l, err := web.Listen(cmd.Context(), o.listen)
		if err != nil {
			return err
		}
		return o.serve(cmd, d, l)
	})
}

// serve serves the pages of a study at a listener.
func (o *serveOptions) serve(cmd *cobra.Command, d *desk.Desk, l net.Listener) (err error) {
	opt := web.Options{Who: d.Who(), ReadOnly: o.readOnly, Hosts: o.hosts, Guide: guideForPages(), Log: o.logger(cmd),
		Report: reportForPages}
	if !web.IsLoopback(l) {
		opt.Token = web.NewToken()
		if name, err := os.Hostname(); err == nil {
			opt.Hosts = append(opt.Hosts, name)
		}
	}
	s := web.New(d, opt)
	defer func() { err = errors.Join(err, s.Close()) }()
	s.Warm()
	if err := o.announce(cmd, d, l, opt.Token); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
	return web.Serve(ctx, l, s)
}

// announce says where the pages are, and who can open them.
func (o *serveOptions) announce(cmd *cobra.Command, d *desk.Desk, l net.Listener, token string) error {
	w := cmd.ErrOrStderr()
	lines := []string{fmt.Sprintf("%s: http://%s/", study.Shown(d.Name()), addressOf(l))}
	if token == "" {
		lines = append(lines, "only this machine can open the pages; Ctrl-C ends")
	} else {
		lines = append(lines,
			"note other machines can open the pages: whoever comes must state the token, and nothing is encrypted",
			"token (printed once): "+token)
	}
	for _, line := range lines {
		if err := printLine(w, "%s", line); err != nil {
			return err
		}
	}
	return nil
}

// addressOf is the host and port by which a browser finds a listener: of one that listens at all addresses the name of
// the machine.
func addressOf(l net.Listener) string {
	at, ok := l.Addr().(*net.TCPAddr)
	if !ok || !at.IP.IsUnspecified() {
		return l.Addr().String()
	}
	name, err := os.Hostname()
	if err != nil {
		name = "localhost"
	}
	return net.JoinHostPort(name, fmt.Sprint(at.Port))
}

// logger prints requests, and always what was wrong with the program or the study.
func (o *serveOptions) logger(cmd *cobra.Command) func(web.Visit) {
	w := cmd.ErrOrStderr()
	return func(v web.Visit) {
		if o.requests {
			// A screen that has gone does not end the pages.
			_ = printLine(w, "%s %s %s %s %d %d bytes %s", time.Now().UTC().Format(time.RFC3339), v.From, v.Method, v.Path,
				v.Status, v.Bytes, v.Took.Round(time.Millisecond))
		}
		if v.Fault != nil {
			say(w, v.Fault, keepTraces(v.Fault))
		}
	}
}

// guideForPages are the topics of the guide.
func guideForPages() (topics []web.Topic) {
	for _, name := range guideTopics() {
		text, _ := guidePage(name)
		topics = append(topics, web.Topic{Name: name, Text: strings.TrimSpace(text) + "\n"})
	}
	return topics
}
