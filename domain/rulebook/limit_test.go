package rulebook_test

import (
	"math/big"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

var kebab = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func TestEveryRowIsComplete(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, l := range rulebook.Limits() {
		if seen[l.ID] {
			t.Errorf("%s stands twice", l.ID)
		}
		seen[l.ID] = true
		if !kebab.MatchString(l.ID) {
			t.Errorf("%q is not in kebab-case", l.ID)
		}
		for what, word := range map[string]string{
			"jurisdiction": l.Jurisdiction.String(), "agent": l.Agent.String(), "species": l.Species.String(),
			"phase": l.Phase.String(), "base": l.Base.String(), "kind": l.Kind.String(), "comparator": l.Comparator.String(),
			"unit": l.Unit.String(), "trust": l.Source.Trust.String(),
		} {
			if word == "unstated" {
				t.Errorf("%s: no %s", l.ID, what)
			}
		}
		if l.Subject == "" || l.Source.Title == "" || len(l.Classes) == 0 || l.Value.Printed == "" {
			t.Errorf("%s lacks subject, source, classes or figure", l.ID)
		}
		for i, c := range l.Classes {
			if c.String() == "unstated" || slices.Contains(l.Classes[:i], c) {
				t.Errorf("%s: class %s is invalid or stands twice", l.ID, c)
			}
		}
		if !l.From.IsZero() && !l.Until.IsZero() && !l.From.Before(l.Until) {
			t.Errorf("%s begins on %s and ends on %s", l.ID, l.From, l.Until)
		}
		if l.Source.Trust == source.Memory && (l.Note == "" || l.Source.Note == "") {
			t.Errorf("%s is recalled and does not say so", l.ID)
		}
	}
}

// What a row does, its comparator, unit, species and base go together.
func TestKindsAgreeWithTheRestOfTheRow(t *testing.T) {
	t.Parallel()
	comparators := map[rulebook.Kind]rulebook.Comparator{
		rulebook.Ceiling: rulebook.AtMost, rulebook.Floor: rulebook.AtLeast, rulebook.Required: rulebook.Equal,
		rulebook.Investigate: rulebook.AtMost, rulebook.Prohibited: rulebook.Equal,
		rulebook.Condition: rulebook.NoComparison, rulebook.Absent: rulebook.NoComparison,
	}
	for _, l := range rulebook.Limits() {
		if diff := cmp.Diff(comparators[l.Kind].String(), l.Comparator.String()); diff != "" {
			t.Errorf("%s: comparator of a %s differs (-want +got):\n%s", l.ID, l.Kind, diff)
		}
		figure := l.Kind != rulebook.Condition && l.Kind != rulebook.Absent
		if figure != (l.Value.Amount != nil) || figure != (l.Unit != rulebook.NoUnit) ||
			figure != (l.Species != rulebook.NoSpecies) || figure != (l.Base != rulebook.NoBase) {
			t.Errorf("%s: %s with amount %v, unit %s, species %s and base %s", l.ID, l.Kind, l.Value.Amount, l.Unit, l.Species, l.Base)
		}
		massFraction := l.Unit == rulebook.MilligramsPerKilogram || l.Unit == rulebook.PercentOfBase
		if _, ok := l.Value.PPM(); ok != massFraction {
			t.Errorf("%s: a mass fraction in unit %s: %t", l.ID, l.Unit, ok)
		}
		if l.Value.Exact != nil && l.Value.Exact.Sign() < 0 {
			t.Errorf("%s: negative", l.ID)
		}
	}
}

// A species must be one that the agent can be expressed as.
func TestSpeciesFitAgents(t *testing.T) {
	t.Parallel()
	fitting := map[rulebook.Agent][]rulebook.Species{
		rulebook.Nitrite:                     {rulebook.AsAdded, rulebook.SodiumNitrite, rulebook.NitriteIon},
		rulebook.Nitrate:                     {rulebook.AsAdded, rulebook.SodiumNitrate, rulebook.NitrateIon},
		rulebook.NitriteAndNitrate:           {rulebook.AsAdded, rulebook.SodiumNitrite},
		rulebook.AscorbicOrErythorbicAcid:    {rulebook.AsAdded},
		rulebook.AscorbateOrErythorbate:      {rulebook.AsAdded},
		rulebook.ErythorbicAcidOrErythorbate: {rulebook.ErythorbicAcid},
		rulebook.FumaricAcid:                 {rulebook.AsAdded},
		rulebook.GluconoDeltaLactone:         {rulebook.AsAdded},
		rulebook.SodiumAcidPyrophosphate:     {rulebook.AsAdded},
		rulebook.Phosphates:                  {rulebook.AsAdded, rulebook.PhosphorusPentoxide},
		rulebook.Salt:                        {rulebook.SodiumChloride},
		rulebook.CureAccelerators:            {},
	}
	used := map[rulebook.Agent]bool{}
	for _, l := range rulebook.Limits() {
		used[l.Agent] = true
		if l.ID == "anz-nitrate" { // both in total, as sodium nitrite
			continue
		}
		if l.Species != rulebook.NoSpecies && !slices.Contains(fitting[l.Agent], l.Species) {
			t.Errorf("%s: %s is not expressed as %s", l.ID, l.Agent, l.Species)
		}
	}
	for a := range fitting {
		if !used[a] {
			t.Errorf("no row is about %s", a)
		}
	}
}

func day(year int, month time.Month, d int) time.Time {
	return time.Date(year, month, d, 12, 0, 0, 0, time.UTC)
}

func ids(rows []rulebook.Limit) []string {
	var got []string
	for _, l := range rows {
		got = append(got, l.ID)
	}
	return got
}

// Regulation (EU) 2023/2108: the new limits hold from 9 October 2025, the old
// ones until the day before.
func TestOldAndNewEuropeanRowsAreNeverBothInForce(t *testing.T) {
	t.Parallel()
	type phaseOf struct {
		agent rulebook.Agent
		phase rulebook.Phase
		class rulebook.Class
		only  rulebook.Applies
	}
	pairs := map[phaseOf][]rulebook.Limit{}
	for _, l := range rulebook.Limits() {
		if l.Jurisdiction != rulebook.EuropeanUnion {
			continue
		}
		for _, c := range l.Classes {
			k := phaseOf{l.Agent, l.Phase, c, l.Applies}
			pairs[k] = append(pairs[k], l)
		}
	}
	changed := 0
	for k, rows := range pairs {
		for i, a := range rows {
			for _, b := range rows[i+1:] {
				changed++
				for d := day(2025, time.September, 1); d.Before(day(2025, time.November, 15)); d = d.AddDate(0, 0, 1) {
					if a.On(d) && b.On(d) {
						t.Errorf("%s and %s are both in force on %s for %s", a.ID, b.ID, d.Format(time.DateOnly), k.class)
					}
					if !a.On(d) && !b.On(d) {
						t.Errorf("neither %s nor %s is in force on %s for %s", a.ID, b.ID, d.Format(time.DateOnly), k.class)
					}
				}
			}
		}
	}
	if changed < 10 {
		t.Errorf("only %d rows changed", changed)
	}
}

func TestRowsInForce(t *testing.T) {
	t.Parallel()
	offset := time.FixedZone("", 2*60*60)
	for _, c := range []struct {
		name   string
		where  rulebook.Jurisdiction
		date   time.Time
		class  rulebook.Class
		agent  rulebook.Agent
		phase  rulebook.Phase
		wanted []string
	}{
		{
			"last old day", rulebook.EuropeanUnion, day(2025, time.October, 8), rulebook.DrySausage, rulebook.Nitrite, rulebook.Ingoing,
			[]string{"eu-nitrite-0831-old", "eu-organic-nitrite", "eu-trad-cz"},
		},
		{
			"first new day", rulebook.EuropeanUnion, day(2025, time.October, 9), rulebook.DrySausage, rulebook.Nitrite, rulebook.Ingoing,
			[]string{"eu-nitrite-0831", "eu-organic-nitrite", "eu-trad-cz-new"},
		},
		{
			"the day is read in UTC", rulebook.EuropeanUnion, time.Date(2025, time.October, 9, 1, 0, 0, 0, offset), rulebook.DrySausage,
			rulebook.Nitrite, rulebook.Ingoing, []string{"eu-nitrite-0831-old", "eu-organic-nitrite", "eu-trad-cz"},
		},
		{
			"the last moment of the last old day", rulebook.EuropeanUnion, time.Date(2025, time.October, 8, 23, 59, 59, 999, time.UTC),
			rulebook.DrySausage, rulebook.Nitrite, rulebook.Ingoing, []string{"eu-nitrite-0831-old", "eu-organic-nitrite", "eu-trad-cz"},
		},
		{
			"nitrate in the European Union", rulebook.EuropeanUnion, day(2026, time.January, 1), rulebook.DrySausage, rulebook.Nitrate,
			rulebook.Ingoing, []string{"eu-nitrate-0831", "eu-nitrate-0831-dry", "eu-organic-nitrate", "eu-trad-salami-new", "eu-trad-saucisson-new"},
		},
		{
			"Great Britain retained the old one", rulebook.GreatBritain, day(2026, time.January, 1), rulebook.DrySausage, rulebook.Nitrite,
			rulebook.Ingoing, []string{"gb-nitrite-0831", "gb-trad-cz"},
		},
		{
			"United States", rulebook.UnitedStates, day(2026, time.January, 1), rulebook.DrySausage, rulebook.Nitrite, rulebook.Ingoing,
			[]string{"us-nitrite-comminuted", "us-nitrite-min-keeprefrig"},
		},
		{
			"Canada's window", rulebook.Canada, day(2026, time.January, 1), rulebook.DrySausage, rulebook.NitriteAndNitrate, rulebook.Ingoing,
			[]string{"ca-curing-ceiling", "ca-curing-floor"},
		},
		{
			"no provision in the Codex", rulebook.CodexAlimentarius, day(2026, time.January, 1), rulebook.DrySausage, rulebook.Nitrite,
			rulebook.NoPhase, []string{"codex-0831"},
		},
		{
			"Denmark, heated, after the permission", rulebook.Denmark, day(2026, time.January, 1), rulebook.CookedSausage, rulebook.Nitrite,
			rulebook.Ingoing, nil,
		},
		{
			"Denmark, raw", rulebook.Denmark, day(2026, time.January, 1), rulebook.DrySausage, rulebook.Nitrite, rulebook.Ingoing,
			[]string{"dk-nitrite"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var rows []rulebook.Limit
			for _, l := range rulebook.InForce(c.where, c.date) {
				if l.For(c.class) && l.Agent == c.agent && l.Phase == c.phase {
					rows = append(rows, l)
				}
			}
			if diff := cmp.Diff(c.wanted, ids(rows)); diff != "" {
				t.Errorf("rows differ (-want +got):\n%s", diff)
			}
		})
	}
}

func TestEveryJurisdictionHasRowsInOrder(t *testing.T) {
	t.Parallel()
	total := 0
	for _, j := range rulebook.Jurisdictions() {
		rows := rulebook.InForce(j, day(2026, time.January, 1))
		total += len(rows)
		if len(rows) == 0 || !slices.IsSorted(ids(rows)) {
			t.Errorf("%s: rows are missing or not in order: %v", j, ids(rows))
		}
	}
	ended := 0
	for _, l := range rulebook.Limits() {
		if !l.On(day(2026, time.January, 1)) {
			ended++
		}
	}
	if diff := cmp.Diff(len(rulebook.Limits()), total+ended); diff != "" {
		t.Errorf("count of rows differs (-want +got):\n%s", diff)
	}
}

// A row that takes another's place is of the same sort, for no more classes,
// holds on no day that the other does not, and asks for something that the other
// does not ask.
func TestReplacements(t *testing.T) {
	t.Parallel()
	replacing := 0
	for _, l := range rulebook.Limits() {
		if l.Replaces == "" {
			continue
		}
		replacing++
		general, ok := rulebook.LimitByID(l.Replaces)
		if !ok {
			t.Errorf("%s takes the place of %s, which is not there", l.ID, l.Replaces)
			continue
		}
		if general.Jurisdiction != l.Jurisdiction || general.Agent != l.Agent || general.Phase != l.Phase || general.Base != l.Base {
			t.Errorf("%s and %s are not of the same sort", l.ID, general.ID)
		}
		if general.Replaces != "" {
			t.Errorf("%s takes the place of %s, which takes another's", l.ID, general.ID)
		}
		if !general.From.Equal(l.From) || !general.Until.Equal(l.Until) {
			t.Errorf("%s and %s hold on different days", l.ID, general.ID)
		}
		if l.Applies == (rulebook.Applies{}) || l.Applies == general.Applies {
			t.Errorf("%s asks nothing that %s does not", l.ID, general.ID)
		}
		for _, c := range l.Classes {
			if !general.For(c) {
				t.Errorf("%s is for %s and %s is not", l.ID, c, general.ID)
			}
		}
	}
	if replacing == 0 {
		t.Error("no row takes another's place")
	}
}

// Great Britain retained the European rows as they stood: every figure, species
// and base is the same.
func TestBritishRowsAreTheOldEuropeanOnes(t *testing.T) {
	t.Parallel()
	retained := map[string]string{
		"gb-nitrite-0831": "eu-nitrite-0831-old", "gb-nitrate-0831": "eu-nitrate-0831-old", "gb-nitrite-0832": "eu-nitrite-0832-old",
		"gb-nitrite-0832-ster": "eu-nitrite-0832-ster-old",
		"gb-trad-drybacon":     "eu-trad-drybacon", "gb-trad-dryham": "eu-trad-dryham", "gb-trad-rohschinken": "eu-trad-rohschinken",
		"gb-trad-cz": "eu-trad-cz", "gb-trad-salamikantwurst": "eu-trad-salamikantwurst", "gb-trad-saucisson": "eu-trad-saucisson",
		"gb-salt-only": "eu-salt-only", "gb-erythorbate": "eu-erythorbate", "gb-phosphate": "eu-phosphate",
	}
	for _, l := range rulebook.InForce(rulebook.GreatBritain, day(2030, time.January, 1)) {
		eu, ok := rulebook.LimitByID(retained[l.ID])
		delete(retained, l.ID)
		if !ok {
			t.Errorf("%s was retained from nothing", l.ID)
			continue
		}
		if diff := cmp.Diff(eu.Value.Printed, l.Value.Printed); diff != "" || eu.Species != l.Species || eu.Base != l.Base || eu.Phase != l.Phase {
			t.Errorf("%s is not %s", l.ID, eu.ID)
		}
		if !l.From.IsZero() || !l.Until.IsZero() {
			t.Errorf("%s has days", l.ID)
		}
	}
	for id := range retained {
		t.Errorf("no row %s", id)
	}
}

func TestRowsAreCopies(t *testing.T) {
	t.Parallel()
	spoil := func(l rulebook.Limit) {
		l.Classes[0] = rulebook.HomeCure
		l.Value.Exact.SetInt64(-1)
		l.Value.Amount.SetInt64(-1)
	}
	const id = "us-nitrite-comminuted"
	find := func(rows []rulebook.Limit) rulebook.Limit {
		return rows[slices.IndexFunc(rows, func(l rulebook.Limit) bool { return l.ID == id })]
	}
	spoil(find(rulebook.Limits()))
	spoil(find(rulebook.InForce(rulebook.UnitedStates, day(2026, time.January, 1))))
	one, _ := rulebook.LimitByID(id)
	spoil(one)
	got, ok := rulebook.LimitByID(id)
	if !ok {
		t.Fatalf("no row %s", id)
	}
	if got.Value.Exact.Cmp(big.NewRat(625, 4)) != 0 || got.Value.Amount.Cmp(big.NewRat(625, 4)) != 0 || got.Classes[0] != rulebook.DrySausage {
		t.Errorf("a caller changed the table: %v, %v, %v", got.Value.Exact, got.Value.Amount, got.Classes)
	}
	guide, _ := rulebook.GuideByID("hardstop")
	guide.Low.Exact.SetInt64(-1)
	guide, _ = rulebook.GuideByID("hardstop")
	if guide.Low.Exact.Cmp(big.NewRat(625, 1)) != 0 {
		t.Errorf("a caller changed the guides: %v", guide.Low.Exact)
	}
}

func TestUnknownIDs(t *testing.T) {
	t.Parallel()
	if l, ok := rulebook.LimitByID("no-such-row"); ok {
		t.Errorf("found %s", l.ID)
	}
	if g, ok := rulebook.GuideByID("no-such-guide"); ok {
		t.Errorf("found %s", g.ID)
	}
	if c, ok := rulebook.CureByKey("no-such-cure"); ok {
		t.Errorf("found %s", c.Key)
	}
}

func TestWordsRoundTrip(t *testing.T) {
	t.Parallel()
	for _, j := range rulebook.Jurisdictions() {
		if got, ok := rulebook.ParseJurisdiction(j.String()); !ok || got != j {
			t.Errorf("%s is read as %s", j, got)
		}
	}
	for c := rulebook.DrySausage; c <= rulebook.HomeCure; c++ {
		if got, ok := rulebook.ParseClass(c.String()); !ok || got != c {
			t.Errorf("%s is read as %s", c, got)
		}
	}
	for _, s := range []string{"", " ", "unstated", "US", "mars"} {
		if got, ok := rulebook.ParseJurisdiction(s); ok {
			t.Errorf("%q is read as %s", s, got)
		}
		if got, ok := rulebook.ParseClass(s); ok {
			t.Errorf("%q is read as %s", s, got)
		}
	}
	words := map[string]string{
		rulebook.NoSpecies.String(): "none", rulebook.NoPhase.String(): "none", rulebook.WaterPhase.String(): "water-phase",
		rulebook.Window.String(): "window", rulebook.NoComparison.String(): "none", rulebook.NoUnit.String(): "none",
		rulebook.CureAccelerators.String(): "cure-accelerators", rulebook.Brazil.String(): "br", rulebook.HomeCure.String(): "home-cure",
		rulebook.CompoundSodiumAscorbate.String(): "sodium-ascorbate",
		rulebook.Jurisdiction(0).String():         "unstated", rulebook.Compound(99).String(): "unstated",
	}
	for got, want := range words {
		if got != want {
			t.Errorf("want %q, got %q", want, got)
		}
	}
}

func TestVersionIsNamed(t *testing.T) {
	t.Parallel()
	if !regexp.MustCompile(`^20\d\d\.(1[0-2]|[1-9])\.[1-9]\d*$`).MatchString(rulebook.Version()) {
		t.Errorf("version %q is not year.month.count", rulebook.Version())
	}
}
