package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
)

// Command lines that only read a study, by the command; COPY and OUT are new paths.
var readingCommands = map[string][]string{
	"wane results": {"results", "results --format json", "results --by coating --format csv",
		"results --joint --format json", "results --independent", "results --as-of 3 --format json",
		"results E1", "results E1 --format json --as-of 5",
		"results E1 --figure OUT.pdf"},
	"wane compare": {"compare --by lot --quantity thickness --figure OUT.svg", "compare --format json"},
	"wane trend":   {"trend", "trend --by coupon --format json"},
	"wane tint":    {"tint", "tint --figure OUT.pdf", "tint --page OUT.html --angles 8", "tint --lab 10,2,-9 --angles 8"},
	"wane status":  {"status", "status --as-of 2 --format json"},
	"wane due":     {"due", "due --format json", "due --calendar OUT.ics"},
	"wane check":   {"check", "check --format json"},
	"wane log":     {"log --format json", "log --hashes"},
	"wane plan":    {}, // this study has too few coupons for it: see the end of the test of a disk for reading
	"wane verify":  {"verify --seed 7", "verify --deep --seed 7"},
	"wane backup":  {"backup COPY"},
	"wane predict": {"predict --from E1 --pull 1", "predict --from E1 --pull 0 --angles 75 --bare 0.2 --figure OUT.svg --spectrum"},
	"wane export": {"export --curves", "export --workbook OUT.xlsx", "export --spectra", "export --measurements", "export --originals OUT",
		"export OUT --history"},
	"wane report":        {"report OUT.html", "report OUT.html --for lab"},
	"wane trace":         {"trace E1", "trace E1 --format json", "trace M1"},
	"wane review":        {"review", "review --format json"},
	"wane profile list":  {"profile list"},
	"wane profile show":  {"profile show bench-1"},
	"wane profile check": {"profile check --profile bench-1 E1-pull0-1.csv"},
	"wane protocol list": {"protocol list", "protocol list --format json"},
	"wane protocol show": {"protocol show damp-heat", "protocol show rack-2 --format yaml"},
	"wane rule list":     {"rule list", "rule list --format json"},
	"wane rule show":     {"rule show loss-1", "rule show loss-1 --format yaml"},
	"wane sheet": {"sheet roof --pull 0 --list", "sheet roof --pull 0 --out bench.pdf", "sheet --labels --out labels.html",
		"sheet roof --rack --out rack.pdf"},
	"wane intake": {"intake --map map.csv --preview", "intake --map more.csv --preview",
		"intake --map map.csv --replace --why again --preview"},
	"wane move":  {"move 1 --to-spot 2 --why mistyped --preview"},
	"wane amend": {"amend lot.csv --why mistyped --preview"},
}

// Command lines that write it.
var writingCommands = map[string][]string{
	"wane enrol":        {"enrol coupons.csv", "enrol --from other.wane", "enrol events.csv"},
	"wane amend":        {"amend lot.csv --why mistyped", "amend --withdraw coupon:M1 --why unknown"},
	"wane intake":       {"intake --map map.csv", "intake --map more.csv", "intake --map map.csv --replace --why again"},
	"wane fit":          {"fit"},
	"wane measure":      {"measure gloss.csv"},
	"wane review":       {"review 1 --aside --why soiled"},
	"wane move":         {"move 1 --to-spot 2 --why mistyped", "move --exchange E1,M1 --pull 0 --why exchanged"},
	"wane profile add":  {"profile add bench.yaml"},
	"wane protocol add": {"protocol add more.yaml"},
	"wane rule add":     {"rule add second.yaml"},
	"wane rule judge":   {"rule judge loss-1"},
	"wane serve":        {"serve --listen 127.0.0.1:0"},
	"wane sheet":        {"sheet roof --pull 1 --out other.pdf"},
}

// Of every command that finds a study it is decided whether it only reads.
func TestEachCommandReadsOrWrites(t *testing.T) {
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		if cmd.Flags().Lookup("study") != nil {
			assert.True(t, readingCommands[cmd.CommandPath()] != nil || writingCommands[cmd.CommandPath()] != nil,
				cmd.CommandPath())
		}
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(newRootCommand())
}

// smallStudy makes the folder of a study, in which this process then works, and returns
// the bytes of the study.
func smallStudy(t *testing.T) []byte {
	t.Helper()
	exports, err := filepath.Abs("../../testdata/exports")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "tester")
	for name, text := range map[string]string{
		"coupons.csv": "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n" +
			"E1,exposed,m,K,1,soda-lime,,matched,roof\nB1,blank,,,,soda-lime,,matched,\n",
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,nowhere,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\nroof,1,90,2026-04-01\n",
		"map.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
			"b1-0.csv,#2,B1,0,1,8,u,R,percent\n",
		"more.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
			"b1-0.csv,#3,B1,0,1,30,u,R,percent\n",
		"lot.csv": "coupon,lot\nE1,2\n", "right.csv": "coupon,lot\nE1,3\n",
		"events.csv": "coupon,event,pull\nE1,clean,1\n",
		"others.csv": "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\nM1,exposed,n,L,1,soda-lime,,matched,roof\n",
		"m1.csv": "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
			"m1-0.csv,#2,M1,0,1,8,u,R,percent\n",
		"gloss.csv": "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n" +
			"E1,0,1,thickness,118.4,0.8,nm,ellipsometer,2026-01-02,ada,,\n",
		"loss.yaml": ownRule, "second.yaml": strings.Replace(ownRule, "loss-1", "loss-2", 1),
		"rack.yaml": ownProtocol, "more.yaml": strings.Replace(ownProtocol, "made up", "made up again", 1),
		"bench.yaml": "profile: bench-1\nfiles: \"{coupon}-pull{pull}-{spot}.csv\"\ncurves:\n" +
			"  - column: \"{angle} deg %R\"\n" +
			"    coupon: \"{coupon}\"\n    pull: \"{pull}\"\n    spot: \"{spot}\"\n    angle: \"{angle}\"\n" +
			"    polarisation: u\n",
	} {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	for to, from := range map[string]string{"E1-pull0-1.csv": "g07-fresh.csv", "E1-pull1-1.csv": "g07-patchy.csv",
		"b1-0.csv": "b01-blank.csv", "m1-0.csv": "g18-one-angle.csv", "M1-pull1-1.csv": "g15-remnant.csv"} {
		require.NoError(t, os.WriteFile(to, []byte(readFile(t, filepath.Join(exports, from))), 0o644))
	}
	for _, line := range []string{"new s.wane --correction none", "new other.wane",
		"enrol others.csv exposures.csv pulls.csv --study other.wane", "intake --map m1.csv --study other.wane",
		"protocol add rack.yaml --study s.wane", "enrol coupons.csv exposures.csv pulls.csv --study s.wane",
		"rule add loss.yaml --study s.wane",
		"intake E1-pull0-1.csv E1-pull1-1.csv --profile bench.yaml --study s.wane", "intake --map map.csv --study s.wane",
		"enrol --from other.wane --study s.wane", "intake M1-pull1-1.csv --profile bench.yaml --study s.wane", "amend right.csv --why mistyped --study s.wane", "fit --study s.wane",
		"sheet roof --pull 0 --out bench.pdf --study s.wane"} {
		code, _, errs := waneLine(t, line)
		require.Zero(t, code, "%s: %s", line, errs)
	}
	return []byte(readFile(t, "s.wane"))
}

// ownRule is a rule of acceptance. Made up.
const ownRule = `rule: loss-1
quantity: solar_T
weighting: energy
condition: cleaned
exposure: roof
dose: 90
by: coating
limit: 1.5
unit: pp
n: 1
share: 0.5
confidence: 0.5
looks: 1
`

// ownProtocol is a protocol of a laboratory. Made up.
const ownProtocol = `protocol: rack-2
title: made up
kind: exposure
purpose: a test
basis: common practice, no source
dose-unit: days
dose: a day
pulls: [0, 90]
levels: [{what: tilt, value: 30, unit: degrees, source: made up}]
steps: [one]
records: [day]
invalid-if: [it fell]
cautions: [edges cut]
`

func readFile(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func waneLine(t *testing.T, line string) (code int, out, errs string) {
	t.Helper()
	var stdout, stderr strings.Builder
	args := strings.Fields(line)
	code = run(t.Context(), args, &stdout, &stderr)
	return code, stdout.String(), stderr.String()
}

// archived puts files onto a disk that is mounted for reading, which binds root too, or skips
// where that is not allowed.
func archived(t *testing.T, files map[string][]byte) string {
	t.Helper()
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=8m"); err != nil {
		t.Skipf("a disk cannot be mounted (only root may): %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, 0)) })
	inFolder(t, disk, files)
	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	return disk
}

func inFolder(t *testing.T, folder string, files map[string][]byte) string {
	t.Helper()
	for name, data := range files {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), data, 0o644))
	}
	return folder
}

// Each command that only reads prints the same of a study that cannot be written, closed or
// not, and leaves it as it is; each that writes is refused.
func TestCommandsOnAStudyThatCannotBeWritten(t *testing.T) {
	closed := smallStudy(t)
	d, err := desk.Open(t.Context(), "s.wane", desk.Person{Name: "tester"})
	require.NoError(t, err)
	_, err = d.Intake(t.Context(), "more.csv", nil, desk.IntakeOptions{Workers: 2})
	require.NoError(t, err)
	open := map[string][]byte{"s.wane": []byte(readFile(t, "s.wane")), "s.wane-wal": []byte(readFile(t, "s.wane-wal"))}
	require.NoError(t, d.Close())
	require.NoError(t, os.Mkdir("temporary", 0o755))
	t.Setenv("TMPDIR", filepath.Join(".", "temporary"))
	for name, files := range map[string]map[string][]byte{"closed": {"s.wane": closed}, "not closed": open} {
		t.Run(name, func(t *testing.T) {
			disk, folder := archived(t, files), inFolder(t, t.TempDir(), files)
			for _, lines := range readingCommands {
				for _, line := range lines {
					there, said := readLine(t, line, filepath.Join(disk, "s.wane"))
					here, _ := readLine(t, line, filepath.Join(folder, "s.wane"))
					assert.Equal(t, here, there, line)
					if name == "not closed" {
						assert.Contains(t, said, "recovered 2 commits", line)
					}
				}
			}
			code, _, errs := waneLine(t, "plan --power --from-study --study "+filepath.Join(disk, "s.wane"))
			assert.Equal(t, exitRefused, code)
			assert.Contains(t, errs, "how coupons scatter cannot be told from exposure", "it has read the study")
			for _, lines := range writingCommands {
				for _, line := range lines {
					code, out, errs := waneLine(t, line+" --study "+filepath.Join(disk, "s.wane"))
					assert.Equal(t, exitRefused, code, line)
					assert.Empty(t, out, line)
					assert.Contains(t, errs, "cannot be written", line)
				}
			}
			for file, was := range files {
				assert.Equal(t, string(was), readFile(t, filepath.Join(disk, file)))
			}
			there, err := os.ReadDir(disk)
			require.NoError(t, err)
			assert.Len(t, there, len(files))
		})
	}
	left, err := os.ReadDir("temporary")
	require.NoError(t, err)
	assert.Empty(t, left)
}

// readLine carries out a line that reads and returns what it printed.
func readLine(t *testing.T, line, path string) (out, errs string) {
	t.Helper()
	for _, made := range []string{"copy.wane", "out"} {
		require.NoError(t, os.RemoveAll(made))
	}
	code, out, errs := waneLine(t, strings.NewReplacer("COPY", "copy.wane", "OUT", "out").Replace(line)+" --study "+path)
	require.Zero(t, code, "%s: %s", line, errs)
	require.NotEmpty(t, out, line)
	return out, errs
}

// What happens to the study of a command while it works ends it with exit code 1 and
// without output, also where the command only reads.
func TestAStudyTakenAwayUnderACommand(t *testing.T) {
	for name, open := range map[string]func(*studyOptions) func(func(*desk.Desk) error) error{
		"reading": func(o *studyOptions) func(func(*desk.Desk) error) error {
			return func(do func(*desk.Desk) error) error { return o.reading(t.Context(), do) }
		},
		"writing": func(o *studyOptions) func(func(*desk.Desk) error) error {
			return func(do func(*desk.Desk) error) error { return o.with(t.Context(), do) }
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			code, _, errs := waneLine(t, "new s.wane")
			require.Zero(t, code, errs)
			root := &cobra.Command{Use: "wane", SilenceErrors: true, SilenceUsage: true}
			o := &studyOptions{}
			cmd := &cobra.Command{Use: "work", RunE: func(cmd *cobra.Command, args []string) error {
				return open(o)(func(d *desk.Desk) error {
					cmd.Print("done")
					data := readFile(t, "s.wane")
					require.NoError(t, os.WriteFile("new", []byte(data), 0o644))
					return os.Rename("new", "s.wane")
				})
			}}
			o.bind(cmd)
			root.AddCommand(cmd)
			var stdout, stderr strings.Builder
			assert.Equal(t, exitRefused, execute(t.Context(), root, []string{"work"}, &stdout, &stderr))
			assert.Empty(t, stdout.String())
			assert.Contains(t, stderr.String(), "wane: s.wane: another file has taken the place of the study")
			assert.Contains(t, stderr.String(), "\n  try: ")
		})
	}
}
