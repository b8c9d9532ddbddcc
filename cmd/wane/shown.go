package main

import "wane/study/shown"

// What commands and pages show alike is in the package shown. Here it has short names.
type (
	column[R any]  = shown.Column[R]
	listing[R any] = shown.List[R]
	records        = shown.Records
)

const coverage = shown.Coverage

var (
	plusMinus     = shown.PlusMinus
	decimal       = shown.Decimal
	decimals      = shown.Decimals
	appendDecimal = shown.AppendDecimal
	dash          = shown.Dash
	orNil         = shown.OrNil
	orEmpty       = shown.OrEmpty
	orZero        = shown.OrZero
	firstOf       = shown.FirstOf
	flagMeaning   = shown.FlagMeaning
	newRecords    = shown.NewRecords
	addOnce       = shown.AddOnce
	wordList      = shown.WordList
)

func valueColumn[R any](name string, value func(R) any) column[R] { return shown.Value(name, value) }

func cellColumn[R any](name string, rank int, head string, cell func(R) string) column[R] {
	return shown.Cell(name, rank, head, cell)
}

func count[N int | int64](n N, thing string) string { return shown.Count(n, thing) }
