package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/source"
	"wane/study/shown"
)

const profileLong = `A profile answers, once, the questions that a kind of export leaves open, and says where its
curves belong: by the names of files and columns. It is a YAML file with comments. The study
keeps every version of it that was used.

  wane profile draft EXPORT...         write a profile from samples, for you to complete
  wane profile check PROFILE EXPORT... show where each curve would go
  wane profile add PROFILE.yaml...     keep profiles in the study
  wane profile list                    list the profiles that the study keeps
  wane profile show NAME               print the text of one of them
  wane intake EXPORT... --profile ...  take exports in with a profile
` + exitCodes

func newProfileCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use: "profile", Short: "draft, check, add, list and show profiles of exports", Long: profileLong,
		Example: "  wane profile draft --name bench-1 G07-pull0-8deg.csv > bench-1.yaml",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return noCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newProfileDraftCommand(), newProfileCheckCommand(), newProfileAddCommand(), newProfileListCommand(),
		newProfileShowCommand())
	return cmd
}

func newProfileDraftCommand() *cobra.Command {
	var name string
	cmd := &cobra.Command{
		Use: "draft EXPORT...", Short: "write a commented profile from sample exports",
		Example: "  wane profile draft --name bench-1 G07-pull0-8deg.csv > bench-1.yaml\n" +
			"  wane profile draft --name bench-1 G07-pull0-1.csv G08-pull1-2.csv > bench-1.yaml",
		Long: "Print a profile with comments, made from an export: what the reader finds, each question that\n" +
			"the file leaves open with the possible answers, and a line for each curve. More exports of the\n" +
			"same kind show what varies in their names and headers, which is proposed as patterns. Complete\n" +
			"it, then try it with wane profile check. wane answers nothing for you.\n" + exitCodes,
		Args: atLeastOne("name an export: wane profile draft sample.csv"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			defer study.Catch(args[0], &err)
			var samples []desk.DraftSample
			for _, path := range args {
				data, err := source.ReadFile(path)
				if err != nil {
					return err
				}
				samples = append(samples, desk.DraftSample{Path: path, Data: data})
			}
			text, err := desk.DraftProfile(name, samples[0].Path, samples[0].Data, samples[1:]...)
			if err != nil {
				return err
			}
			_, err = fmt.Fprint(cmd.OutOrStdout(), text)
			return err
		},
	}
	cmd.Flags().StringVar(&name, "name", "", "the name of the profile in the study")
	return cmd
}

func newProfileCheckCommand() *cobra.Command {
	var profile string
	var in studyOptions
	cmd := &cobra.Command{
		Use: "check [PROFILE.yaml] EXPORT...", Short: "show what a profile would make of exports",
		Long: "Show where each curve of the exports would go by a profile, with its first, middle and\n" +
			"last point, and what is skipped or refused. Nothing is changed, and coupons are not looked up.\n" +
			"The profile is a file, given first or with --profile, or with --profile NAME one that\n" +
			"the study keeps. What would be refused is shown; the exit code is 0 all the same.\n" + exitCodes,
		Example: "  wane profile check bench-1.yaml exports\n  wane profile check --profile bench-1 G07-pull1.csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return checkProfile(cmd, &in, profile, args) },
	}
	in.bind(cmd)
	cmd.Flags().StringVar(&profile, "profile", "", "the profile: a file, or the name of one that the study keeps")
	in.completeFiles(cmd, "profile", func(c *desk.Codes) []string { return c.Profiles })
	return cmd
}

func checkProfile(cmd *cobra.Command, in *studyOptions, profile string, args []string) error {
	if profile == "" && len(args) > 0 && desk.IsProfilePath(args[0]) {
		profile, args = args[0], args[1:]
	}
	switch {
	case profile == "":
		return usagef("name one: wane profile check bench-1.yaml EXPORT...", "no profile is named")
	case len(args) == 0:
		return usagef("give exports, folders or zip files to try it on", "wane profile check takes at least one export")
	}
	var all []desk.Previewed
	var err error
	if desk.IsProfilePath(profile) {
		all, err = desk.CheckProfile(profile, args)
	} else {
		err = in.reading(cmd.Context(), func(d *desk.Desk) error {
			all, err = d.CheckProfile(cmd.Context(), profile, args)
			return err
		})
	}
	if err != nil {
		return err
	}
	return writePreviews(cmd.OutOrStdout(), all, false)
}

func newProfileAddCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "add PROFILE.yaml...", Short: "keep profiles in the study", Example: "  wane profile add bench-1.yaml",
		Long: "Keep profiles in the study. If the text differs from the latest version of that name, it is a\n" +
			"new version; earlier versions stay.\n" + exitCodes,
		Args: atLeastOne("name the files: wane profile add bench-1.yaml"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.with(cmd.Context(), func(d *desk.Desk) error {
				for _, path := range args {
					kept, err := d.AddProfile(cmd.Context(), path)
					if err != nil {
						return err
					}
					if err := sayKept(cmd.OutOrStdout(), kept); err != nil {
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

func sayKept(w io.Writer, kept desk.KeptProfile) error {
	return printLine(w, "%s", shown.KeptProfileWords(&kept))
}

// profileColumns are the columns of the list of profiles.
var profileColumns = listing[*study.Profile]{
	valueColumn("profile", func(p *study.Profile) any { return p.Name }).Ranked(1, "", nil),
	valueColumn("version", func(p *study.Profile) any { return p.Version }).Ranked(1, "", nil),
	valueColumn("lines", func(p *study.Profile) any { return strings.Count(p.Text, "\n") }).Ranked(1, "", nil),
}

func newProfileListCommand() *cobra.Command {
	o := &studyOptions{}
	var list listOptions
	cmd := &cobra.Command{
		Use: "list [NAME...]", Short: "the profiles that the study keeps",
		Example: "  wane profile list\n  wane profile list bench-1",
		Long: "List the profiles that the study keeps, every version, or only those of the profiles that you\n" +
			"name.\n" + exitCodes,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := list.check(cmd); err != nil {
				return err
			}
			columns, err := profileColumns.Choose(list.format, list.named)
			if err != nil {
				return err
			}
			return o.reading(cmd.Context(), func(d *desk.Desk) error {
				for _, name := range args {
					if _, err := d.Profile(cmd.Context(), name, 0); err != nil {
						return err
					}
				}
				all, err := d.Profiles(cmd.Context())
				if err != nil {
					return err
				}
				if len(all) == 0 && list.format == "table" {
					return writeLine(pageOf(cmd), "no profile yet; make one with wane profile draft, keep it with wane profile add")
				}
				out := openRows(columns, pageOf(cmd), list.format)
				for i := range all {
					if len(args) > 0 && !slices.Contains(args, all[i].Name) {
						continue
					}
					if err := out.write(&all[i]); err != nil {
						return err
					}
				}
				return out.end()
			})
		},
	}
	o.bind(cmd)
	bindListing(cmd, &list, profileColumns)
	o.completeArgs(cmd, func(c *desk.Codes) []string { return c.Profiles })
	return cmd
}

func newProfileShowCommand() *cobra.Command {
	o := &studyOptions{}
	var version int
	cmd := &cobra.Command{
		Use: "show NAME", Short: "the text of a profile that the study keeps",
		Example: "  wane profile show bench-1 --version 1 > bench-1.yaml",
		Long:    "Print the text of a profile that the study keeps, exactly as it was written.\n" + exitCodes,
		Args:    exactly(1, "name one that wane profile list shows"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("version") && version < 1 {
				return usagef("write a version from 1", "--version must be at least 1, not %d", version)
			}
			return o.reading(cmd.Context(), func(d *desk.Desk) error {
				var p *study.Profile
				p, err := d.Profile(cmd.Context(), args[0], version)
				if err != nil {
					return err
				}
				_, err = fmt.Fprint(cmd.OutOrStdout(), p.Text)
				return err
			})
		},
	}
	o.bind(cmd)
	cmd.Flags().IntVar(&version, "version", 0, "the version, from 1 (default the latest)")
	o.completeArg(cmd, func(c *desk.Codes) []string { return c.Profiles })
	return cmd
}
