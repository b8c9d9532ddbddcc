// Package source finds and reads files: by name, in folders, by patterns, and in zip files, whose
// members are named as if the zip file were a folder.
//
// Start with [Files]: [Files.Find] follows the paths that a person gives, and [Files.Read] reads
// what they lead to. [ReadFile] and [Open] are for one file, [ReadPicture] for a picture beside a
// table.
//
// Only regular files are opened: a pipe, a device or a socket is refused before it is opened. A file
// has at most 100 MiB, a picture 64 MiB. Every error is a [*study.Refusal]. Nothing is written, and
// nothing is read outside what was named.
package source
