package main

import (
	"os"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// progress shows a bar on a terminal and nothing elsewhere.
type progress struct {
	cmd  *cobra.Command
	what string
	bar  *progressbar.ProgressBar
}

func newProgress(cmd *cobra.Command, what string) *progress { return &progress{cmd: cmd, what: what} }

// to moves the bar to done of total.
func (p *progress) to(done, total int) {
	f, ok := p.cmd.ErrOrStderr().(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return
	}
	if p.bar == nil {
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(p.what),
			progressbar.OptionShowCount(), progressbar.OptionClearOnFinish())
	}
	if err := p.bar.Set(done); err != nil {
		p.bar = nil // a bar that cannot be drawn is no reason to stop
	}
}

func (p *progress) end() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
