package finish_test

import (
	"testing"

	"greenweight/domain/finish"
)

func BenchmarkCheck(b *testing.B) {
	o := finished()
	for b.Loop() {
		if _, err := finish.Check(o); err != nil {
			b.Fatal(err)
		}
	}
}
