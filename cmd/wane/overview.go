package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// overview prints, for wane without a verb, the study of this folder and what is to be done
// next; where there is no study it prints the help.
func overview(cmd *cobra.Command, in *studyOptions) error {
	path, err := in.path()
	if err != nil {
		if found, _ := filepath.Glob("*.wane"); len(found) > 1 { // the pattern is a good one
			return err
		}
		return cmd.Help()
	}
	return in.reading(cmd.Context(), func(d *desk.Desk) error {
		s, err := d.Status(cmd.Context(), desk.StatusOptions{})
		if err != nil {
			return err
		}
		next, why := shown.NextVerb(s)
		o := &s.Overview
		_, err = fmt.Fprintf(cmd.OutOrStdout(),
			"study %s: %s, %s read, %d to fit, %s held\nnext: %s (%s)\nall commands: wane --help\n",
			study.Shown(path), count(o.Coupons, "coupon"), count(o.Spots, "spot"), o.Fits.Spots(),
			count(o.Held, "reading"), next, why)
		return err
	})
}
