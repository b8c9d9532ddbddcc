package desk_test

import (
	"context"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"github.com/go-gota/gota/dataframe"

	"wane/fit"
	"wane/optics"
	"wane/study"
	"wane/study/desk"
	"wane/study/frame"
	"wane/study/scenario"
)

// export returns the text of a made-up export: a film on glass, read at 8 and 60 degrees.
func export(film scenario.Surface) (string, error) {
	var nm []float64
	for x := 400.0; x <= 1000; x += 10 {
		nm = append(nm, x)
	}
	near, err := film.Reflectance(nm, 8)
	if err != nil {
		return "", err
	}
	far, err := film.Reflectance(nm, 60)
	if err != nil {
		return "", err
	}
	noise := rand.New(rand.NewPCG(uint64(100*film.ThicknessNM), 1))
	var b strings.Builder
	b.WriteString("nm,8 deg %R,60 deg %R\n")
	for i := range nm {
		fmt.Fprintf(&b, "%g,%.4f,%.4f\n", nm[i],
			100*near[i]+0.02*noise.NormFloat64(), 100*far[i]+0.02*noise.NormFloat64())
	}
	return b.String(), nil
}

// writeLab writes the tables of a small made-up study and its exports into a folder: the film of
// coupon E1 loses 30 nm, that of the control C1 next to nothing.
func writeLab(folder string) error {
	files := map[string]string{
		"coupons.csv": "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n" +
			"E1,exposed,maker,coat,1,soda-lime,,matched,roof\nC1,control,maker,coat,1,soda-lime,,matched,\n",
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof,rack,a made-up roof,days,2026-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof,0,0,2026-01-01\nroof,1,90,2026-04-01\n",
	}
	rows := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"
	for coupon, thickness := range map[string][]float64{"E1": {120, 90}, "C1": {118, 118.1}} {
		for pull, nm := range thickness {
			name := fmt.Sprintf("%s-pull%d.csv", coupon, pull)
			text, err := export(scenario.Surface{ThicknessNM: nm, Porosity: 0.35})
			if err != nil {
				return err
			}
			files[name] = text
			for k, angle := range []int{8, 60} {
				rows += fmt.Sprintf("%s,#%d,%s,%d,1,%d,u,R,percent\n", name, k+2, coupon, pull, angle)
			}
		}
	}
	files["map.csv"] = rows
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// fitLab starts a study in the folder, enrols the tables, takes the exports in and fits them.
func fitLab(ctx context.Context, folder string) (*desk.Desk, error) {
	in := func(name string) string { return filepath.Join(folder, name) }
	settings := study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}
	d, err := desk.New(ctx, in("roof.wane"), settings, desk.Person{Name: "ada"})
	if err != nil {
		return nil, err
	}
	if _, err := d.Enrol(ctx, []string{in("coupons.csv"), in("exposures.csv"), in("pulls.csv")}); err != nil {
		return nil, err
	}
	taken, err := d.Intake(ctx, in("map.csv"), nil, desk.IntakeOptions{})
	if err != nil {
		return nil, err
	}
	if len(taken.Refused) > 0 {
		return nil, taken.Refused[0]
	}
	_, err = d.Fit(ctx, desk.FitOptions{})
	return d, err
}

// A study from its tables to its results, and these as a data frame.
func Example() {
	ctx := context.Background()
	folder, err := os.MkdirTemp("", "wane-example-")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	if err := writeLab(folder); err != nil {
		log.Fatal(err)
	}
	d, err := fitLab(ctx, folder)
	if err != nil {
		log.Fatal(err)
	}
	defer d.Close()

	var rows []*study.Result
	err = d.Results(ctx, desk.ResultsOptions{}, func(r *study.Result) error {
		rows = append(rows, r)
		return nil
	})
	if err != nil {
		log.Fatal(err)
	}
	exposed := frame.Of(rows).Filter(dataframe.F{Colname: "role", Comparator: "==", Comparando: "exposed"})
	for i := range exposed.Nrow() {
		fmt.Printf("%s, pull %.0f: %s, %.0f nm\n", exposed.Col("coupon").Elem(i), exposed.Col("pull").Elem(i).Float(),
			exposed.Col("state").Elem(i), exposed.Col("thickness_nm").Elem(i).Float())
	}
	// Output:
	// E1, pull 0: full, 120 nm
	// E1, pull 1: thinned, 90 nm
}

// One export by itself: no study is needed and nothing is stored.
func ExampleNewQuick() {
	file, err := os.CreateTemp("", "wane-example-*.csv")
	if err != nil {
		log.Fatal(err)
	}
	defer os.Remove(file.Name())
	text, err := export(scenario.Surface{ThicknessNM: 118, Porosity: 0.36, Bare: 0.1})
	if err != nil {
		log.Fatal(err)
	}
	if _, err := file.WriteString(text); err != nil {
		log.Fatal(err)
	}
	if err := file.Close(); err != nil {
		log.Fatal(err)
	}
	quick, err := desk.NewQuick([]string{file.Name()}, desk.QuickOptions{
		Pane: desk.Pane{Glass: "soda-lime", Back: optics.Matched, Mixing: optics.Bruggeman}, Loss: fit.Squares,
	})
	if err != nil {
		log.Fatal(err)
	}
	spots, err := quick.Read(&desk.ExportReader{}, nil)
	if err != nil {
		log.Fatal(err)
	}
	found, err := quick.Fit(context.Background(), spots[0])
	if err != nil {
		log.Fatal(err)
	}
	r := found.Result
	fmt.Printf("%s: thickness %.0f nm, solar transmittance %.1f %%\n", r.State, float64(r.Thickness.Value),
		100*float64(r.SolarT.Value))
	// Output:
	// patchy: thickness 118 nm, solar transmittance 98.4 %
}
