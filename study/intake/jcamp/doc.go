// Package jcamp reads JCAMP-DX, a text format for spectra: bytes in, blocks of x and y out.
//
// Start with [Is], which knows such a text by its first record, and [Parse], which cuts it into
// blocks. [Block.Unread] says why a block cannot be read, and [File.Read] reads the numbers of one
// that can and checks them against its header.
//
// Numbers are multiplied by the factors of the header and by powers of ten, and are the float64
// nearest to that product; a missing ordinate is NaN. What the records mean (units, quantities,
// angles) is for the caller. Every error is an [*Error], which says where, and what to try.
//
// Sources, both from memory: R. S. McDonald, P. A. Wilks, Appl. Spectrosc. 42, 151-162 (1988),
// version 4.24; P. Lampen et al., Pure Appl. Chem. 71, 1549-1556 (1999), version 5.01.
package jcamp
