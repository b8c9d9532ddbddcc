package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wane/protocols"
	"wane/study"
	"wane/study/desk"
)

var protocolFormats = []string{"page", "yaml", "json"}

func newProtocolShowCommand() *cobra.Command {
	o := &studyOptions{}
	var format string
	cmd := &cobra.Command{
		Use: "show NAME", Short: "print a protocol",
		Example: "  wane protocol show damp-heat\n  wane protocol show my-rack@1 --format yaml > my-rack.yaml",
		Long: "Print a protocol: a page to read, the text as it was written (--format yaml, to begin one of your\n" +
			"own), or JSON. NAME is the latest version that the study keeps, else that of the library;\n" +
			"NAME@2 is version 2. A study is not needed.\n" + exitCodes,
		Args: exactly(1, "name one that wane protocol list shows"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", format, protocolFormats); err != nil {
				return err
			}
			all, err := o.knownProtocols(cmd)
			if err != nil {
				return err
			}
			p, err := desk.FindProtocol(all, args[0])
			if err != nil {
				return err
			}
			return showProtocol(pageOf(cmd), p, format)
		},
	}
	o.bind(cmd)
	cmd.Flags().StringVar(&format, "format", "page", strings.Join(protocolFormats[:2], ", ")+" or "+protocolFormats[2])
	completeWords(cmd, map[string][]string{"format": protocolFormats})
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		names := protocolNames()
		o.tryReading(cmd, func(d *desk.Desk) error {
			kept, err := d.Protocols(cmd.Context())
			for i := range kept {
				names = addOnce(names, kept[i].Name)
			}
			return err
		})
		if len(args) > 0 {
			names = nil
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	}
	return cmd
}

// protocolNames are those of the library.
func protocolNames() (names []string) {
	for _, p := range desk.LibraryProtocols() {
		names = append(names, p.Name)
	}
	return names
}

func showProtocol(w page, p *desk.KnownProtocol, format string) error {
	switch format {
	case "yaml":
		_, err := io.WriteString(w, p.Text)
		return err
	case "json":
		return writeProtocolJSON(w, p)
	}
	out := bufio.NewWriter(w)
	width := guideWidth
	if w.width > 0 {
		width = min(w.width, guideWidth)
	}
	t := &protocolPage{out, width}
	t.write(p)
	return out.Flush()
}

// protocolPage prints a protocol for people. What was written by others is wrapped, and stays in its lines.
type protocolPage struct {
	out   *bufio.Writer
	width int
}

func (t *protocolPage) write(p *desk.KnownProtocol) {
	t.paragraph("", p.Title)
	kept := "in the library"
	if p.Version > 0 {
		kept = "kept by the study"
	}
	t.paragraph("", fmt.Sprintf("protocol %s, %s, %s", p.Code(), p.Kind, kept))
	t.paragraph("\n", p.Purpose)
	t.paragraph("", "Basis: "+p.Basis+".")
	if p.Kind == protocols.Exposure {
		t.paragraph("\n", fmt.Sprintf("Dose in %s: %s", p.DoseUnit, p.Dose))
		pulls := fmt.Sprintf("Pulls 0 to %d at %s %s", len(p.Pulls)-1, strings.Join(dosesWritten(p.Pulls), ", "), p.DoseUnit)
		if p.DosePerDay > 0 && p.DoseUnit != "days" {
			unit := p.DoseUnit
			if p.DosePerDay == 1 {
				unit = strings.TrimSuffix(unit, "s")
			}
			pulls += fmt.Sprintf("; %s %s a day without stops", dosesWritten([]float64{p.DosePerDay})[0], unit)
		}
		t.paragraph("", pulls+".")
	}
	t.list("Cautions", "- ", append(p.Cautions[:len(p.Cautions):len(p.Cautions)], protocols.Precedence))
	t.list("Levels", "- ", levelLines(p.Levels))
	t.list("Steps", "", p.Steps)
	t.list("Write down", "- ", p.Records)
	t.list("A run is worth nothing if", "- ", p.InvalidIf)
}

// levelLines writes each level in a line.
func levelLines(levels []protocols.Level) []string {
	lines := make([]string, len(levels))
	for i, l := range levels {
		lines[i] = fmt.Sprintf("%s: %s %s", l.What, l.Value, l.Unit)
		if l.Note != "" {
			lines[i] += ", " + l.Note
		}
		lines[i] += " [" + l.Source + "]"
	}
	return lines
}

// paragraph prints a text after what stands before it.
func (t *protocolPage) paragraph(before, text string) {
	fmt.Fprintf(t.out, "%s%s\n", before, wrapped(study.OneLine(text), t.width))
}

// list prints a heading and texts, each with a mark before it; without a mark they are numbered.
func (t *protocolPage) list(heading, mark string, texts []string) {
	fmt.Fprintf(t.out, "\n%s\n", heading)
	for i, text := range texts {
		before := mark
		if mark == "" {
			before = fmt.Sprintf("%d. ", i+1)
		}
		before = fmt.Sprintf("%4s", before)
		lines := strings.Split(wrapped(study.OneLine(text), t.width-len(before)), "\n")
		fmt.Fprintf(t.out, "%s%s\n", before, strings.Join(lines, "\n"+strings.Repeat(" ", len(before))))
	}
}

// writeProtocolJSON prints a protocol as one object.
func writeProtocolJSON(w io.Writer, p *desk.KnownProtocol) error {
	type level struct {
		What   string `json:"what"`
		Value  string `json:"value"`
		Unit   string `json:"unit"`
		Note   any    `json:"note"`
		Source string `json:"source"`
	}
	levels := make([]level, len(p.Levels))
	for i, l := range p.Levels {
		levels[i] = level{l.What, l.Value, l.Unit, orEmpty(l.Note), l.Source}
	}
	orNil := func(x any, is bool) any {
		if !is {
			return nil
		}
		return x
	}
	object := struct {
		Protocol   string    `json:"protocol"`
		Version    any       `json:"version"`
		Title      string    `json:"title"`
		Kind       string    `json:"kind"`
		Purpose    string    `json:"purpose"`
		Basis      string    `json:"basis"`
		DoseUnit   any       `json:"dose_unit"`
		Dose       any       `json:"dose"`
		DosePerDay any       `json:"dose_per_day"`
		Pulls      []float64 `json:"pulls"`
		Levels     []level   `json:"levels"`
		Steps      []string  `json:"steps"`
		Records    []string  `json:"records"`
		InvalidIf  []string  `json:"invalid_if"`
		Cautions   []string  `json:"cautions"`
		Precedence string    `json:"precedence"`
	}{p.Name, orNil(p.Version, p.Version > 0), p.Title, string(p.Kind), p.Purpose, p.Basis, orEmpty(p.DoseUnit),
		orEmpty(p.Dose), orNil(p.DosePerDay, p.DosePerDay > 0), p.Pulls, levels, p.Steps, p.Records, p.InvalidIf,
		p.Cautions, protocols.Precedence}
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", " ")
	return encoder.Encode(object)
}
