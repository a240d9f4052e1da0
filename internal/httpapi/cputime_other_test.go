//go:build !linux

package httpapi_test

import "time"

var began = time.Now()

// cpuTime returns the time that has passed, where the system tells no other.
func cpuTime() time.Duration { return time.Since(began) }
