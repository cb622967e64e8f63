package source_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/source"
)

func TestTrustWords(t *testing.T) {
	t.Parallel()
	// The words are those of Trust in the contract.
	for trust, want := range map[source.Trust]string{
		0: "unstated", source.Read: "read", source.ReadSecondary: "read-secondary", source.Derived: "derived",
		source.Memory: "memory", source.Memory + 1: "unstated", -1: "unstated",
	} {
		if got := trust.String(); got != want {
			t.Errorf("%d: want %q, got %q", int(trust), want, got)
		}
	}
}

func TestCitationOnOneLine(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		citation source.Citation
		want     string
	}{
		{source.Citation{Title: "Common practice", Trust: source.Memory}, "Common practice"},
		{source.Citation{Title: "9 CFR", Section: "424.21(c)", Trust: source.Read}, "9 CFR, 424.21(c)"},
		{source.Citation{Title: "NIST SP 811", Year: 2008, Trust: source.Read}, "NIST SP 811, 2008"},
		{
			source.Citation{Title: "NIST SP 811", Year: 2008, Section: "appendix B.8", Trust: source.Read, Note: "to seven digits"},
			"NIST SP 811, 2008, appendix B.8",
		},
	} {
		if got := row.citation.String(); got != row.want {
			t.Errorf("want %q, got %q", row.want, got)
		}
	}
}

// What has no text behind it can warn, and must not be able to pass anything.
func TestCommonPracticeIsNotRead(t *testing.T) {
	t.Parallel()
	got := source.CommonPractice("rehydrate for 20 to 30 minutes")
	want := source.Citation{Title: got.Title, Trust: source.Memory, Note: "rehydrate for 20 to 30 minutes"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got.Title == "" {
		t.Error("it names nothing")
	}
}
