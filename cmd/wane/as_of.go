package main

import (
	"context"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

// asOfOptions is the flag --as-of.
type asOfOptions struct{ words string }

func (o *asOfOptions) bind(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.words, "as-of", "",
		"show what the study said after this line of the history, or at the end of this day: LINE or DAY")
}

// moment returns the moment that is meant, now if the flag is not given.
func (o *asOfOptions) moment(ctx context.Context, d *desk.Desk) (desk.Moment, error) {
	if o.words == "" {
		return desk.Moment{}, nil
	}
	return d.MomentOf(ctx, o.words)
}
