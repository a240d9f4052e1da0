package httpapi_test

import (
	"syscall"
	"time"
)

// rusageThread is RUSAGE_THREAD of getrusage(2): of the calling thread alone.
const rusageThread = 1

// cpuTime returns the CPU time that the calling thread has used. Collecting garbage,
// and whatever else the process does beside it, is not in it; the caller has to be
// locked to its thread.
func cpuTime() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(rusageThread, &u) // never fails for oneself
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
