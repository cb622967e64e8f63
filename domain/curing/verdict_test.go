package curing_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// A verdict in short says what the check of the formula as written says: the
// same counts, and word for word the findings that need attention, but for the
// remedies.
func TestVerdictSaysWhatTheCheckSays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyCured(t)
		f.Product = rapid.SampledFrom(rulebook.Classes()).Draw(t, "product")
		switch {
		case rapid.IntRange(0, 2).Draw(t, "whole") == 0:
			f = anyWhole(t)
		case f.Product == rulebook.TraditionalProduct && rapid.Bool().Draw(t, "named"):
			f.Tradition = rapid.SampledFrom(rulebook.Traditions()).Draw(t, "tradition")
		}
		f.HomeCure = rapid.Bool().Draw(t, "home cure")
		if rapid.Bool().Draw(t, "planned") {
			loss, ph := quantity.MustPercent(30), quantity.MustPH(5.1)
			f.Plan.Loss, f.Plan.WantedPH = &loss, &ph
		}
		if rapid.Bool().Draw(t, "low acid") {
			f.Plan.LowAcid = true
			f.Plan.Fermentation = airs(rapid.Float64Range(5, 30).Draw(t, "warmth"), 100)
		}
		if rapid.Bool().Draw(t, "mix") {
			f.Additions = append(f.Additions, formula.Addition{Name: "a mix", Role: formula.Other, Rate: per(5, 1000)})
		}
		if rapid.IntRange(0, 4).Draw(t, "undiluted") == 0 {
			f.Additions = append(f.Additions, formula.Addition{
				Name: "nitrite", Role: formula.Cure, Cure: generic("sodium-nitrite"), Rate: per(rapid.Float64Range(0.01, 3).Draw(t, "nitrite dose"), 1000),
			})
		}
		asked := rapid.Permutation(rulebook.Jurisdictions()).Draw(t, "rulebooks")[:rapid.IntRange(1, 9).Draw(t, "how many")]
		rules, err := curing.Prepare(asked, today)
		if err != nil {
			t.Fatal(err)
		}
		short, err := rules.Verdict(f)
		if err != nil {
			t.Fatal(err)
		}
		whole, err := curing.Check(order(f, asked...))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(counted(finding.Summarise(whole.Findings)), counted(short.Summary)); d != "" {
			t.Fatalf("summary (-check +verdict):\n%s", d)
		}
		attention := slices.DeleteFunc(slices.Clone(whole.Findings), func(x finding.Finding) bool { return !x.NeedsAttention() })
		want, got := told(attention), told(short.Attention)
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("what needs attention (-check +verdict):\n%s", d)
		}
	})
}

// counted is a summary by what it counts.
func counted(s finding.Summary) map[[4]string]int {
	m := map[[4]string]int{}
	for _, t := range s {
		for status := finding.Met; status <= finding.Hazard; status++ {
			if n := t.Of(status); n > 0 {
				m[[4]string{t.Rulebook, t.Stage.String(), t.Authority.String(), status.String()}] += n
			}
		}
	}
	return m
}

// told is what findings say.
func told(findings []finding.Finding) []string {
	said := make([]string, 0, len(findings))
	for _, f := range findings {
		said = append(said, f.Rulebook+" "+f.Key()+" "+f.Status.String()+": "+f.Reason)
	}
	return said
}

func TestVerdictOfWhatCannotBeScaled(t *testing.T) {
	t.Parallel()
	rules, err := curing.Prepare([]rulebook.Jurisdiction{rulebook.UnitedStates}, today)
	if err != nil {
		t.Fatal(err)
	}
	f := cured(generic("cure-1"), per(2.5, 1000))
	f.Parts[0].Share = quantity.MustPercent(60)
	_, err = rules.Verdict(f)
	if bad, ok := errors.AsType[*fault.Error](err); !ok || bad.Kind != fault.Invalid {
		t.Errorf("want an invalid formula, got %v", err)
	}
}

func TestPreparedRulebooksAreAskedForOnce(t *testing.T) {
	t.Parallel()
	_, err := curing.Prepare([]rulebook.Jurisdiction{rulebook.Canada, rulebook.UnitedStates, rulebook.Canada}, today)
	bad, ok := errors.AsType[*fault.Error](err)
	if !ok || len(bad.Violations) != 1 || bad.Violations[0].Path.Pointer() != "#/rulebooks/2" {
		t.Errorf("want the third rulebook named, got %v", err)
	}
}

// usual is an invented formula as people write them.
func usual() formula.Formula {
	return cured(generic("cure-1"), per(2.4, 1000),
		added("salt", formula.Salt, "salt-table", per(26, 1000)),
		added("dextrose", formula.Sugar, "dextrose-monohydrate", per(4, 1000)),
		added("pepper", formula.Spice, "pepper-black", per(3, 1000)),
		added("culture", formula.Culture, "culture-carrier", per(0.2, 1000)),
	)
}

func BenchmarkCheck(b *testing.B) {
	for b.Loop() {
		if _, err := curing.Check(order(usual(), rulebook.UnitedStates, rulebook.EuropeanUnion)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkVerdict(b *testing.B) {
	b.ReportAllocs()
	rules := must(curing.Prepare([]rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.EuropeanUnion}, today))
	f := usual()
	for b.Loop() {
		if _, err := rules.Verdict(f); err != nil {
			b.Fatal(err)
		}
	}
}
