package scenetest

import "sync"

// AtOnce calls do n times at the same moment and returns the errors.
func AtOnce(n int, do func(i int) error) []error {
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
