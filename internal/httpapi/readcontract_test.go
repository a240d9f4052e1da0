package httpapi_test

import (
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"tankside/api"
	"tankside/internal/httpapi/contract"
)

// BenchmarkReadContract measures what the start spends on the contract, as a ratio to
// reading its YAML once, in CPU time.
func BenchmarkReadContract(b *testing.B) {
	var whole, document time.Duration
	var built contract.Built
	for b.Loop() {
		began := cpuTime()
		read, err := contract.Parse()
		if err != nil {
			b.Fatal(err)
		}
		built = read.Built()
		whole += cpuTime() - began
		began = cpuTime()
		var doc map[string]any
		if err := yaml.Unmarshal(api.Document, &doc); err != nil {
			b.Fatal(err)
		}
		document += cpuTime() - began
	}
	b.ReportMetric(float64(whole)/float64(document), "contract/document")
	b.ReportMetric(float64(whole.Milliseconds())/float64(b.N), "cpu-ms/op")
	b.ReportMetric(float64(built.Compiled), "schemas")
	b.ReportMetric(float64(built.Size), "bytes-read/schema")
}
