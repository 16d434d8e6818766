package gdalio

/*
#include "cpl_conv.h"
#include "cpl_vsi.h"
*/
import "C"

// MachineMemory is the memory this process may use, in bytes: the machine's,
// or less where the system limits it. 0 when it cannot be told.
func MachineMemory() int64 { return int64(C.CPLGetUsablePhysicalRAM()) }
