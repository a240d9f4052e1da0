package scenetest

import "sync"

// Concurrently calls do n times at the same moment and returns the errors.
func Concurrently(n int, do func(i int) error) []error {
	errs := make([]error, n)
	start := make(chan struct{})
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			<-start
			errs[i] = do(i)
		})
	}
	close(start)
	all.Wait()
	return errs
}
