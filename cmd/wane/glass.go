package main

import (
	"errors"
	"fmt"
	"strings"

	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake"
	"wane/study/intake/source"
)

// loadGlass returns a glass by its name, or from a table in a file.
func loadGlass(name string) (optics.Index, error) {
	if index, ok := evaluate.NamedGlass(name); ok {
		return index, nil
	}
	if !strings.ContainsAny(name, "./") {
		return optics.Index{}, usagef("use one of them, or name a CSV file wavelength_nm,n,k",
			"there is no glass %q; known are %s", name, strings.Join(evaluate.GlassNames(), ", "))
	}
	data, err := source.ReadFile(name)
	if err != nil {
		return optics.Index{}, err
	}
	t, err := intake.ReadGlass(name, data)
	if err != nil {
		return optics.Index{}, err
	}
	index, err := optics.Table(name, t.NM, t.N, t.K)
	var domain *optics.DomainError
	if errors.As(err, &domain) {
		return index, &study.Refusal{File: name, Line: domain.At + 2, Fault: fmt.Sprintf("%s is %g: it must be %s", domain.Quantity, domain.Value, domain.Want),
			Try: "correct the table: wavelengths in nm that rise, n above 0, k at least 0"}
	}
	return index, err
}

// glassPlace names the glass in a refusal that concerns it.
func glassPlace(err error, glass string) error {
	var r *study.Refusal
	if errors.As(err, &r) && r.File == "" && strings.ContainsAny(glass, "./") {
		return r.At(glass, r.Line)
	}
	return err
}
