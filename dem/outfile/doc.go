// Package outfile writes files whole or not at all, and says in plain words
// why one could not be written.
//
// # Model
//
// A file is written beside its place, under a name that begins with a dot,
// brought to the disk, and renamed. A run that fails or is stopped leaves what
// was there before. Files written together are all written before the first
// is renamed. A file that only goes with one the user named replaces nothing
// ([File].Beside). [Look] tells whether two paths are one file.
//
// # Limitations
//
// Between the renames of several files a crash of the machine may leave some
// new and some old. A file that was another's hard link is one of its own
// afterwards.
//
// # References
//
// IEEE Std 1003.1-2017, rename(), link() and fsync(): what they promise; stat():
// a file is told by its device and serial number.
package outfile
