//go:build !race

package httpapi_test

const raced = false
