package cli

// What a question takes for each post it reads at once, bytes, the post's
// own four among them. Measured on fractal ground of 14 and 61 million posts:
// the most a process held, less the 58 MB of one that reads none. Where
// garbage makes it vary the larger is taken.
const (
	overCoverPostBytes = 16 // more, where cover is laid as well
	landformPostBytes  = 56
)

// memory adds what laying cover takes.
func (f *coverFlags) memory(perPost int64) int64 {
	if f.file != "" {
		return perPost + overCoverPostBytes
	}
	return perPost
}
