package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const protocolLong = `A protocol says how coupons are exposed, or how they are read: the levels with unit and
source, the pulls, the steps, what to write down, what makes a run worth nothing, and what can
hurt someone. wane comes with a library of them, whose levels were written from memory of the
standards that they name: the edition that you hold counts.

  wane protocol list              list the library, and what the study keeps
  wane protocol show NAME         print one
  wane protocol check FILE.yaml   check one of your own
  wane protocol add FILE.yaml     keep it in the study
  wane new FILE.wane --protocol   start a study with exposures and pulls by protocols

An exposure whose column protocol has the name of a protocol remembers its version from the
day on which it is enrolled, and so does each pull.
` + exitCodes

func newProtocolCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use: "protocol", Short: "list, show, check and add protocols of exposures and readings", Long: protocolLong,
		Example: "  wane protocol list\n  wane protocol show damp-heat",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return noCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newProtocolListCommand(), newProtocolShowCommand(), newProtocolCheckCommand(), newProtocolAddCommand())
	return cmd
}

// knownProtocols returns the protocols of the library, and of the study if there is one. A study that is only found
// in the folder, and not named, is skipped with a note if it cannot be read.
func (o *studyOptions) knownProtocols(cmd *cobra.Command) (all []desk.KnownProtocol, err error) {
	read := func(d *desk.Desk) error {
		all, err = d.Protocols(cmd.Context())
		return err
	}
	named := o.file != "" || os.Getenv("WANE_STUDY") != ""
	path, none := o.path()
	if none == nil {
		err = o.reading(cmd.Context(), read)
	}
	var refusal *study.Refusal
	var failure *study.Failure
	switch {
	case none == nil && err == nil:
		return all, nil
	case none == nil && (named || !errors.As(err, &refusal) && !errors.As(err, &failure)):
		return nil, err
	case none == nil:
		err = printLine(cmd.ErrOrStderr(), "note %s is not read, only the library is: %v", path, err)
	case !errors.Is(none, errNoStudy):
		err = printLine(cmd.ErrOrStderr(), "note only the library is read: %v; name one with --study", none)
	default:
		err = nil
	}
	return desk.LibraryProtocols(), err
}

// protocolColumns are the columns of the list of protocols.
var protocolColumns = listing[*desk.KnownProtocol]{
	valueColumn("protocol", func(p *desk.KnownProtocol) any { return p.Name }).Ranked(1, "", nil),
	valueColumn("version", func(p *desk.KnownProtocol) any {
		if p.Version == 0 {
			return nil
		}
		return p.Version
	}).Ranked(4, "", nil),
	valueColumn("kind", func(p *desk.KnownProtocol) any { return string(p.Kind) }).Ranked(3, "", nil),
	valueColumn("dose_unit", func(p *desk.KnownProtocol) any { return orEmpty(p.DoseUnit) }).Ranked(2, "", nil),
	valueColumn("pulls", func(p *desk.KnownProtocol) any { return dosesWritten(p.Pulls) }).Ranked(2, "", nil).Folded(12),
	valueColumn("dose_per_day", func(p *desk.KnownProtocol) any {
		if p.DosePerDay == 0 {
			return nil
		}
		return p.DosePerDay
	}),
	valueColumn("title", func(p *desk.KnownProtocol) any { return p.Title }).Ranked(1, "", nil).Folded(24),
	valueColumn("basis", func(p *desk.KnownProtocol) any { return p.Basis }),
	valueColumn("kept_by", func(p *desk.KnownProtocol) any {
		if p.Version == 0 {
			return "library"
		}
		return "study"
	}),
	valueColumn("followed_by", func(p *desk.KnownProtocol) any { return followerWords(p.FollowedBy) }).
		Ranked(5, "followed by", nil).Folded(16),
}

// dosesWritten writes doses with all their digits.
func dosesWritten(doses []float64) []string {
	words := make([]string, len(doses))
	for i, dose := range doses {
		words[i] = strconv.FormatFloat(dose, 'f', -1, 64)
	}
	return words
}

// followerWords writes exposures with their pulls, as roof:0,1,2, or as roof without any.
func followerWords(all []desk.Follower) []string {
	words := make([]string, len(all))
	for i, f := range all {
		pulls := make([]string, len(f.Pulls))
		for k, n := range f.Pulls {
			pulls[k] = strconv.Itoa(n)
		}
		words[i] = f.Exposure
		if len(pulls) > 0 {
			words[i] += ":" + strings.Join(pulls, ",")
		}
	}
	return words
}

func newProtocolListCommand() *cobra.Command {
	o := &studyOptions{}
	var list listOptions
	cmd := &cobra.Command{
		Use: "list", Short: "the protocols of the library and of the study",
		Example: "  wane protocol list\n  wane protocol list --format json",
		Long: "List the protocols of the library. If there is a study, also those that it keeps, every version,\n" +
			"with the exposures and pulls that follow it. A study is not needed.\n" + columnsHelp(protocolColumns) + exitCodes,
		Args: exactly(0, "see one with wane protocol show NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := list.check(cmd); err != nil {
				return err
			}
			columns, err := protocolColumns.Choose(list.format, list.named)
			if err != nil {
				return err
			}
			all, err := o.knownProtocols(cmd)
			if err != nil {
				return err
			}
			out := openRows(columns, pageOf(cmd), list.format)
			for i := range all {
				if err := out.write(&all[i]); err != nil {
					return err
				}
			}
			return out.end()
		},
	}
	o.bind(cmd)
	bindListing(cmd, &list, protocolColumns)
	return cmd
}

func newProtocolCheckCommand() *cobra.Command {
	return &cobra.Command{
		Use: "check FILE.yaml...", Short: "check protocols of your own, without a study",
		Example: "  wane protocol show field-rack --format yaml > my-rack.yaml\n  wane protocol check my-rack.yaml",
		Long: "Check protocols that you have written, strictly: unknown names, units that are missing, doses\n" +
			"that do not rise and dose units that a study does not know are refused, all of them at once,\n" +
			"each with its line. Nothing is changed. A study is not needed.\n" + exitCodes,
		Args: atLeastOne("name the files: wane protocol check my-rack.yaml"),
		RunE: func(cmd *cobra.Command, args []string) error { return checkProtocols(cmd.OutOrStdout(), args) },
	}
}

func checkProtocols(w io.Writer, paths []string) error {
	var lines []string
	var wrong []error
	for _, path := range paths {
		p, err := desk.ReadProtocol(path)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		line := fmt.Sprintf("%s: protocol %s is sound: %s", study.Shown(path), p.Name, p.Kind)
		if len(p.Pulls) > 0 {
			line += fmt.Sprintf(", pulls 0 to %d at %s %s", len(p.Pulls)-1, strings.Join(dosesWritten(p.Pulls), ", "),
				p.DoseUnit)
		}
		lines = append(lines, line)
	}
	if len(wrong) > 0 {
		return &several{wrong}
	}
	for _, line := range lines {
		if err := printLine(w, "%s", line); err != nil {
			return err
		}
	}
	return nil
}

func newProtocolAddCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "add FILE.yaml...", Short: "keep protocols of your own in the study",
		Example: "  wane protocol add my-rack.yaml",
		Long: "Keep protocols in the study, all or none. If the text differs from the latest version of that\n" +
			"name, it is a new version, such as my-rack@2; earlier versions stay, and so does what follows\n" +
			"them. The same text adds nothing. A new version has the kind and the dose unit of those before.\n" +
			"Where the library has a protocol of that name, its text is version 1.\n" + exitCodes,
		Args: atLeastOne("name the files: wane protocol add my-rack.yaml"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.with(cmd.Context(), func(d *desk.Desk) error {
				all, err := d.AddProtocols(cmd.Context(), args)
				if err != nil {
					return err
				}
				for _, kept := range all {
					text := "kept as %s; exposures and pulls that are enrolled from now on remember this version"
					if !kept.Added {
						text = "known already as %s"
					}
					if err := printLine(cmd.OutOrStdout(), text, kept.Protocol); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
	o.bind(cmd)
	return cmd
}
