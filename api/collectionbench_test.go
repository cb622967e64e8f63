package api

import (
	"testing"

	"github.com/go-json-experiment/json"

	"greenweight/api/stream"
	"greenweight/domain/curing"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// benchLine is an invented formula of the size that a collection has.
const benchLine = `{"name":"Invented ring no. 1","product":"dry-sausage","parts":[{"name":"Lean","material":"pork-shoulder-whole-lean-and-fat","share_percent":75},` +
	`{"name":"Fat","material":"pork-backfat","share_percent":25}],"additions":[{"role":"salt","material":"salt-table","rate":{"value":2.6,"unit":"percent"}},` +
	`{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.6,"unit":"g_per_kg"}},{"role":"sugar","material":"dextrose-monohydrate","rate":{"value":0.5,"unit":"percent"}},` +
	`{"role":"culture","name":"Starter","culture":{"activity_cfu_per_g":50000000000,"label_dose_g_per_kg":0.2},"rate":{"value":0.2,"unit":"g_per_kg"},` +
	`"rehydration_water":{"value":5,"unit":"mL","per":{"value":1,"unit":"kg"}}},{"role":"spice","material":"pepper-black","rate":{"value":2.5,"unit":"g_per_kg"}},` +
	`{"role":"spice","material":"fennel-seed","rate":{"value":3,"unit":"g_per_kg"}},{"role":"spice","material":"garlic-powder","rate":{"value":1,"unit":"g_per_kg"}}],` +
	`"plan":{"loss_percent":38,"label_keep_refrigerated":true}}`

// BenchmarkLine compares what is done to a line, and its parts, with reading and
// writing it by reflection.
func BenchmarkLine(b *testing.B) {
	s, err := newServer(must(theKeeping()))
	if err != nil {
		b.Fatal(err)
	}
	rules, err := curing.Prepare([]rulebook.Jurisdiction{rulebook.UnitedStates}, testTime())
	if err != nil {
		b.Fatal(err)
	}
	c := &lineChecker{
		collection: &collection{h: s.handlers, flow: &flow{requestID: "benchmark"}, rules: rules},
		decoder:    newTextDecoder[openapi.Formula](),
	}
	line := stream.Line{Number: 1, Text: []byte(benchLine)}
	if r, err := c.check(line); err != nil || r.name == "" {
		b.Fatal(r, err)
	}
	run := func(name string, step func()) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(benchLine)))
			b.ReportAllocs()
			for b.Loop() {
				step()
			}
		})
	}
	var out []byte
	run("answer", func() { out = c.Answer(out[:0], line) })
	run("contract", func() { c.h.formulas.Check(line.Text) })
	run("decode", func() { c.decoder.decode(line.Text) })
	asked, _ := c.decoder.decode(line.Text)
	run("read", func() { _, _ = c.readFormulaAlone(asked) })
	f, err := c.readFormulaAlone(asked)
	if err != nil {
		b.Fatal(err)
	}
	run("judge", func() { _, _, _ = c.judge(f) })
	r, _ := c.check(line)
	run("write", func() { out = appendResult(out[:0], r) })
	run("by-reflection", func() {
		var f openapi.Formula
		_ = json.Unmarshal(line.Text, &f)
		out = appendLine(out[:0], f)
	})
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
