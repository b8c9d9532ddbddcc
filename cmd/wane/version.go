package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

const versionLong = `Print the version of wane, and the versions of its model (which rises when printed numbers
change), of its reader of exports and of Go.
` + exitCodes

func newVersionCommand() *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "the version of wane and of its model", Long: versionLong, Example: "  wane version",
		Args: exactly(0, "leave the argument out: wane version"),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, err := fmt.Fprintln(cmd.OutOrStdout(), desk.Software())
			return err
		},
	}
}
