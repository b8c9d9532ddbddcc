package main

import (
	"encoding/hex"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const backupLong = `Copy the study into a new file and verify the copy. Others may use the study meanwhile.
Choose another folder, best another disk: commands find a study by themselves only where it is
the only one in the folder.
` + exitCodes

func newBackupCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "backup FILE", Short: "a verified copy", Long: backupLong, Example: "  wane backup /safe/roof-2026-03.wane",
		Args: exactly(1, "name the new file: wane backup copy.wane"),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd, o, args[0]) },
	}
	o.bind(cmd)
	return cmd
}

func runBackup(cmd *cobra.Command, o *studyOptions, path string) error {
	return o.reading(cmd.Context(), func(d *desk.Desk) error {
		r, err := d.Backup(cmd.Context(), path)
		if err != nil {
			return err
		}
		if _, unsure := o.path(); unsure != nil {
			err := printLine(cmd.ErrOrStderr(), "note this folder now has more than one study: name one with --study")
			if err != nil {
				return err
			}
		}
		return printLine(cmd.OutOrStdout(), "copied to %s and verified: %s, the history ends with %s", study.Shown(path),
			count(r.Rows, "row"), hex.EncodeToString(r.Head[:]))
	})
}
