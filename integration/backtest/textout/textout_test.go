package textout_test

import (
	"errors"
	"strings"
	"testing"

	"greenweight/integration/backtest/textout"
)

func TestPrinter(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	p := textout.New(&out)
	p.Say("%d of %s\n", 2, "them")
	p.Table([][]string{{"", "hours"}, {"ä line", "12.5"}})
	p.Paragraph(strings.Repeat("word ", 30))
	if p.Err() != nil {
		t.Fatal(p.Err())
	}
	lines := strings.Split(out.String(), "\n")
	if lines[0] != "2 of them" || strings.TrimRight(lines[1], " ") != "          hours" || strings.TrimRight(lines[2], " ") != "  ä line   12.5" {
		t.Errorf("want numbers to the right of names, got %q", lines[:3])
	}
	for _, line := range lines {
		if len(line) > 120 {
			t.Errorf("want lines of at most 120 letters, got %d", len(line))
		}
	}
	if n := strings.Count(out.String(), "word"); n != 30 {
		t.Errorf("want all 30 words, got %d", n)
	}
}

type broken struct{ calls int }

func (b *broken) Write([]byte) (int, error) { b.calls++; return 0, errors.New("broken pipe") }

func TestPrinterKeepsTheFirstError(t *testing.T) {
	t.Parallel()
	out := &broken{}
	p := textout.New(out)
	p.Say("a")
	p.Say("b")
	p.Table([][]string{{"c"}})
	if p.Err() == nil || out.calls != 1 {
		t.Errorf("want one attempt and its error, got %d and %v", out.calls, p.Err())
	}
}

func TestWords(t *testing.T) {
	t.Parallel()
	half := 0.5
	for _, c := range []struct{ want, got string }{
		{"", textout.InBrackets(nil)}, {" (a, b)", textout.InBrackets([]string{"a", "b"})},
		{"-", textout.Number("%.1f", nil)}, {"0.5 h", textout.Number("%.1f h", &half)},
	} {
		if c.got != c.want {
			t.Errorf("want %q, got %q", c.want, c.got)
		}
	}
}
