package desk

import "time"

// ByClock gives the times of an item as a clock gives them that is off.
func ByClock(i *Item, off time.Duration) { i.correct(off) }
