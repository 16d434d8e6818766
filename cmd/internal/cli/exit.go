package cli

// Exit codes, printed in the root help.
const (
	exitOK     = 0   // answered
	exitError  = 1   // could not answer
	exitUsage  = 2   // wrong usage
	exitCancel = 130 // interrupted
)
