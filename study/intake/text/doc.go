// Package text is what all stages of reading an export share: the lines and the encoding of its
// text, numbers and days, what a person states about it, and refusals that say where.
//
// Start with [Asker]: it knows the name of a file and what is stated about it. [Asker.Decode] turns
// the bytes of the file into text, [Lines] goes through it, [ParseNumber] and [DayIn] read what
// is there, and [Asker.Refuse] and [Asker.Question] say what is wrong and what to try.
//
// Lines and characters count from 1; 0 stands for the whole (see [Position]). Wavelengths are in nm.
// A number is the float64 nearest to what is written. Text that is not UTF-8 is Latin-1. Nothing
// here opens a file, and nothing is guessed.
package text
